"""Real sound through PortAudio and a virtual sound card: what is played is heard, what is lost is said.

The outside view is PulseAudio's own recorder at the speaker's monitor and its player at the microphone.
Time is real here, since it is the subject.
"""

from __future__ import annotations

import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import numpy as np
import pytest

from assistant.errors import MicrophoneLost, NoMicrophone, NoSpeaker
from audio import devices
from audio.capture import HOLD_OFF_S, Microphone
from audio.devices import Way, list_devices
from audio.play import Speaker

RATE_HZ = 22_050
TONE_HZ = 440
TONE = (12_000 * np.sin(2 * np.pi * TONE_HZ * np.arange(RATE_HZ) / RATE_HZ)).astype(np.int16)
RAW = ["--channels=1", "--format=s16le"]

Card = Callable[[str], str]


@contextmanager
def playing_into_the_mouth(samples: np.ndarray) -> Iterator[None]:
    player = subprocess.Popen(["pacat", "-d", "mouth", f"--rate={RATE_HZ}", *RAW], stdin=subprocess.PIPE)
    thread = threading.Thread(target=player.communicate, args=(samples.tobytes(),))
    thread.start()
    yield
    thread.join()


class Monitor:
    """Records what the speaker gives out, each piece with the moment it came."""

    RATE_HZ = 16_000

    def __enter__(self) -> Monitor:
        command = ["parec", "-d", "deck.monitor", f"--rate={self.RATE_HZ}", "--latency-msec=10", *RAW]
        self.pieces: list[tuple[float, np.ndarray]] = []
        self._recorder = subprocess.Popen(command, stdout=subprocess.PIPE)
        self._thread = threading.Thread(target=self._read)
        self._thread.start()
        wait_till(lambda: bool(self.pieces), "the monitor to give sound")
        return self

    def __exit__(self, *_: object) -> None:
        self._recorder.kill()
        self._thread.join()
        self._recorder.wait()
        self._recorder.stdout.close()

    def _read(self) -> None:
        while piece := self._recorder.stdout.read1(2048):
            self.pieces.append((time.monotonic(), np.frombuffer(piece[: len(piece) // 2 * 2], np.int16)))

    def loud_times_s(self) -> list[float]:
        return [when for when, piece in self.pieces if np.abs(piece.astype(np.int32)).max() > 1000]

    def sound(self) -> np.ndarray:
        return np.concatenate([piece for _, piece in self.pieces])


def wait_till(true: Callable[[], bool], what: str, within_s: float = 5.0) -> None:
    ends_s = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < ends_s, f"waited in vain for {what}"
        time.sleep(0.01)


def strongest_hz(samples: np.ndarray, rate_hz: int) -> float:
    return float(np.abs(np.fft.rfft(samples)).argmax() * rate_hz / samples.size)


def take(microphone: Microphone, seconds: float) -> np.ndarray:
    frames = iter(microphone)
    return np.concatenate([next(frames) for _ in range(int(seconds * 50))])


def test_devices_are_listed_by_name(soundcard: Card) -> None:
    for way in Way:
        assert {"deck", "mic"} <= {device.name for device in list_devices(way)}
        assert [device.name for device in list_devices(way) if device.default] == ["default"]
    with pytest.raises(NoMicrophone, match="No microphones are named 'headset'") as refused:
        Microphone("headset").__enter__()
    assert "'mic'" in refused.value.mend


def test_microphone_hears_what_is_played_into_the_mouth(soundcard: Card) -> None:
    with Microphone("mic") as microphone:
        take(microphone, 0.1)
        with playing_into_the_mouth(np.tile(TONE, 2)):
            heard = take(microphone, 3.5)
        loud = heard[np.abs(heard.astype(np.int32)) > 500]
        assert loud.size / 16_000 == pytest.approx(2 * 0.97, abs=0.2)
        assert strongest_hz(heard, 16_000) == pytest.approx(TONE_HZ, abs=2)
        assert microphone.counts.losses == 0


def test_play_returns_when_the_last_frame_has_left(soundcard: Card) -> None:
    """Against the monitor: the sound ends no later than play() returns (else the ear would open on our
    own voice), and not long before (else the reply waits for nothing)."""
    with Monitor() as monitor, Speaker("deck") as speaker:
        late_s = []
        for _ in range(3):
            assert speaker.play(TONE, RATE_HZ) is True
            returned_s = time.monotonic()
            wait_till(lambda: monitor.pieces[-1][0] > returned_s + 0.3, "what comes after")  # noqa: B023
            late_s.append(max(monitor.loud_times_s()) - returned_s)
        sound = monitor.sound()
    print("sound's end after play() returned, s:", late_s)
    assert max(late_s) < HOLD_OFF_S
    assert min(late_s) > -0.2
    assert np.count_nonzero(np.abs(sound.astype(np.int32)) > 500) / 16_000 == pytest.approx(3 * 0.97, abs=0.1)
    assert strongest_hz(sound, 16_000) == pytest.approx(TONE_HZ, abs=2)


def test_stop_ends_the_line(soundcard: Card) -> None:
    with Speaker("deck") as speaker:
        began_s = time.monotonic()
        threading.Timer(0.5, speaker.stop).start()
        assert speaker.play(np.tile(TONE, 20), RATE_HZ) is False
        assert time.monotonic() - began_s < 3.0
        assert speaker.play(TONE[:2000], RATE_HZ) is True


def test_our_own_voice_is_left_out(soundcard: Card) -> None:
    """The mouth sounds while we are hushed: nothing of it is given afterwards, and the ear hears again."""
    with Microphone("mic") as microphone:
        take(microphone, 0.1)
        microphone.hush()
        with playing_into_the_mouth(TONE):
            wait_till(lambda: microphone.counts.hushed_blocks > 10, "blocks left out")
        microphone.listen(hold_off_s=1.0)  # the card's own buffers are longer than a real one's
        assert np.abs(take(microphone, 0.5).astype(np.int32)).max() < 500
        with playing_into_the_mouth(TONE):
            assert np.abs(take(microphone, 2.5).astype(np.int32)).max() > 5000


@pytest.mark.parametrize("how", ["mute", "pull", "stop"], ids=["stream says active", "pulled", "sound system gone"])
def test_pulled_microphone_is_said_within_two_seconds(soundcard: Card, how: str) -> None:
    with Microphone("mic") as microphone:
        take(microphone, 0.1)
        soundcard(how)
        pulled_s = time.monotonic()
        with pytest.raises(MicrophoneLost) as lost:
            take(microphone, 10)
        assert time.monotonic() - pulled_s < 2.0
    assert lost.value.mend


def test_microphone_plugged_in_again_is_opened_again(soundcard: Card) -> None:
    """Pulled, it is no longer listed; plugged in, it is found, since no stream is open then."""
    with Microphone("mic") as microphone:
        take(microphone, 0.1)
        soundcard("pull")
        with pytest.raises(MicrophoneLost):
            take(microphone, 10)
    with pytest.raises(NoMicrophone, match="No microphones are named 'mic'"):
        microphone.open()
    soundcard("plug")
    with Microphone("mic") as microphone:
        assert take(microphone, 0.5).size == 8000


def test_speaker_that_went_away_is_said(soundcard: Card) -> None:
    with Speaker("deck") as speaker:
        assert speaker.play(TONE[:2000], RATE_HZ) is True
        soundcard("stop")
        with pytest.raises(NoSpeaker, match="'deck' takes no sound any more"):
            speaker.play(TONE, RATE_HZ)


def test_machine_without_sound_is_said(soundcard: Card) -> None:
    soundcard("stop")
    devices.rescan()
    with pytest.raises(NoMicrophone, match="no microphone"):
        Microphone().__enter__()
    with pytest.raises(NoSpeaker, match="no speaker"):
        Speaker().__enter__()
