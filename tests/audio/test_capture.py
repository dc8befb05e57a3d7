"""The microphone without PortAudio: its callback is called by the test, and so is its clock."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from assistant.errors import KitcallError, MicrophoneLost, NoMicrophone, NoSpeaker
from audio import capture, devices
from audio.capture import Microphone
from audio.devices import Device, Way, choose
from audio.frames import FRAME_SAMPLES

FINE, OVERFLOWED = SimpleNamespace(input_overflow=False), SimpleNamespace(input_overflow=True)


class Clock:
    now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


class Desk:
    """A microphone at 16 kHz whose blocks the test gives by hand."""

    def __init__(self, microphone: Microphone, clock: Clock) -> None:
        self.microphone, self.clock = microphone, clock

    def hear(self, level: float, blocks: int = 1, status: Any = FINE) -> None:
        for _ in range(blocks):
            self.clock.now_s += 0.02
            self.microphone._take(np.full((FRAME_SAMPLES, 2), level, np.float32), FRAME_SAMPLES, None, status)

    def take(self, frames: int) -> list[int]:
        given = iter(self.microphone)
        return [int(next(given)[0]) for _ in range(frames)]


@pytest.fixture
def desk(monkeypatch: pytest.MonkeyPatch) -> Desk:
    clock = Clock()
    monkeypatch.setattr(capture, "rescan", lambda way: True)
    monkeypatch.setattr(capture, "choose", lambda way, name: Device(0, "desk", 16_000, 2, True))
    monkeypatch.setattr(capture, "open_stream", lambda way, device, callback: object())
    monkeypatch.setattr(capture, "close_stream", lambda stream: None)
    monkeypatch.setattr(capture, "LOST_AFTER_S", 0.01)  # the real seconds that a queue is waited at: keep them few
    return Desk(Microphone(clock=clock).__enter__(), clock)


def test_frames_come_in_order(desk: Desk) -> None:
    for level in (0.25, 0.5, -0.25):
        desk.hear(level)
    assert desk.take(3) == [8192, 16384, -8192]
    assert desk.microphone.counts.frames == 3


def test_nothing_of_our_own_voice_is_given(desk: Desk) -> None:
    """Heard before, during, and within the hold-off after our voice: all left out, and the queue is emptied."""
    desk.hear(0.1)
    desk.microphone.hush()
    desk.hear(0.9, blocks=5)
    desk.microphone.listen(hold_off_s=0.05)
    desk.hear(0.8, blocks=5)  # 100 ms: hold-off and the device's own latency of 60 ms together are 110
    desk.hear(0.25, blocks=3)
    assert desk.take(2) == [8192, 8192]
    assert desk.microphone.counts.hushed_blocks == 10
    assert desk.microphone.counts.losses == 0


def test_blocks_nobody_takes_are_counted(desk: Desk) -> None:
    desk.hear(0.5, blocks=capture.QUEUE_BLOCKS + 7)
    assert desk.microphone.counts.dropped_blocks == 7
    assert desk.microphone.counts.losses == 7


def test_overflow_of_the_device_is_counted(desk: Desk) -> None:
    desk.hear(0.5, blocks=2, status=OVERFLOWED)
    assert (desk.microphone.counts.overflows, desk.microphone.counts.losses) == (2, 2)


def test_losses_during_our_own_voice_do_not_count(desk: Desk) -> None:
    desk.microphone.hush()
    desk.hear(0.5, blocks=3, status=OVERFLOWED)
    assert desk.microphone.counts.losses == 0


@pytest.mark.parametrize(("started", "quiet_s"), [(True, 1.01), (False, 3.01)], ids=["in the middle", "from the start"])
def test_microphone_that_gives_nothing_is_lost(desk: Desk, started: bool, quiet_s: float) -> None:
    if started:
        desk.hear(0.5)
        desk.take(1)
        desk.microphone._allowed_s = 1.0  # as shipped; the fixture made it short
    desk.clock.now_s += quiet_s
    with pytest.raises(MicrophoneLost, match="desk") as lost:
        desk.take(1)
    assert "plug" in lost.value.mend


def test_closed_microphone_is_lost_and_not_waited_for(desk: Desk) -> None:
    desk.microphone.__exit__(None, None, None)
    with pytest.raises(MicrophoneLost):
        desk.take(1)


PLUGGED = [
    Device(0, "USB Audio: mic (hw:1,0)", 48_000, 1, False),
    Device(1, "USB Camera (hw:2,0)", 48_000, 2, False),
    Device(2, "default", 44_100, 2, True),
]


@pytest.mark.parametrize(("name", "index"), [(None, 2), ("audio", 0), ("hw:2", 1), ("default", 2)])
def test_device_is_chosen_by_name(monkeypatch: pytest.MonkeyPatch, name: str | None, index: int) -> None:
    monkeypatch.setattr(devices, "list_devices", lambda way: PLUGGED)
    assert choose(Way.IN, name).index == index


@pytest.mark.parametrize(
    ("way", "plugged", "name", "error", "says"),
    [
        (Way.IN, [], None, NoMicrophone, "This machine has no microphone."),
        (Way.OUT, [], "deck", NoSpeaker, "This machine has no speaker."),
        (Way.IN, PLUGGED, "headset", NoMicrophone, "No microphones are named 'headset'."),
        (Way.IN, PLUGGED, "usb", NoMicrophone, "2 microphones are named 'usb'."),
        (Way.OUT, PLUGGED[:2], None, NoSpeaker, "No speaker is the default one."),
    ],
    ids=["none", "none of that name either", "no such name", "two of that name", "no default"],
)
def test_device_that_cannot_be_chosen_is_refused(
    monkeypatch: pytest.MonkeyPatch,
    way: Way,
    plugged: list[Device],
    name: str | None,
    error: type[KitcallError],
    says: str,
) -> None:
    monkeypatch.setattr(devices, "list_devices", lambda way: plugged)
    with pytest.raises(error) as refused:
        choose(way, name)
    assert str(refused.value) == says
    assert refused.value.mend
