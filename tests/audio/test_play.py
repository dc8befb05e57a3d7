"""One contract for every speaker: the real one, driven by the test's own clock, and its silent stand-in."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from types import SimpleNamespace

import numpy as np
import pytest

from assistant.errors import BadInput, NoSpeaker
from audio import play
from audio.devices import Device
from audio.play import LEAD_IN_S, SilentSpeaker, Speaker

RATE_HZ = 8_000
BLOCK = 400
LINE = np.full(1000, 8192, np.int16)


class Deck:
    """PortAudio's part: calls the callback from its own thread, block by block, and keeps what came."""

    def __init__(self) -> None:
        self.played: list[np.ndarray] = []
        self.time = 0.0  # the stream's clock moves a block at a time
        self.on_block: Callable[[np.ndarray], None] = lambda out: None
        self._end = threading.Event()

    def start(self, way: object, device: Device, callback: Callable[..., None]) -> Deck:
        self._callback = callback
        self._thread = threading.Thread(target=self._run)
        self._thread.start()
        return self

    def close(self, stream: object) -> None:
        self._end.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._end.wait(0.0005):
            out = np.full((BLOCK, 2), 9.0, np.float32)
            self._callback(out, BLOCK, SimpleNamespace(outputBufferDacTime=self.time), None)
            self.played.append(out)
            self.time += BLOCK / RATE_HZ
            self.on_block(out)


@pytest.fixture
def deck(monkeypatch: pytest.MonkeyPatch) -> Deck:
    deck = Deck()
    monkeypatch.setattr(play, "rescan", lambda way: True)
    monkeypatch.setattr(play, "choose", lambda way, name: Device(0, "deck", RATE_HZ, 2, True))
    monkeypatch.setattr(play, "open_stream", deck.start)
    monkeypatch.setattr(play, "close_stream", deck.close)
    return deck


@pytest.fixture(params=["real", "silent"])
def speaker(request: pytest.FixtureRequest, deck: Deck) -> Iterator[Speaker | SilentSpeaker]:
    with Speaker() if request.param == "real" else SilentSpeaker() as opened:
        yield opened


def test_contract_plays_line_after_line(speaker: Speaker | SilentSpeaker) -> None:
    assert [speaker.play(LINE, RATE_HZ) for _ in range(3)] == [True, True, True]


def test_contract_stop_between_lines_does_not_end_the_next(speaker: Speaker | SilentSpeaker) -> None:
    speaker.stop()
    assert speaker.play(LINE, RATE_HZ) is True


@pytest.mark.parametrize(
    ("samples", "rate_hz"),
    [(LINE[:0], RATE_HZ), (LINE.astype(np.float32), RATE_HZ), (LINE.reshape(500, 2), RATE_HZ), (LINE, 0)],
    ids=["empty", "float", "two channels", "no rate"],
)
def test_contract_refuses_what_is_no_line(speaker: Speaker | SilentSpeaker, samples: np.ndarray, rate_hz: int) -> None:
    with pytest.raises(BadInput, match="mono int16"):
        speaker.play(samples, rate_hz)


def heard(deck: Deck) -> np.ndarray:
    return np.concatenate(deck.played)


def test_every_sample_leaves_once_after_the_lead_in(deck: Deck) -> None:
    with Speaker() as speaker:
        speaker.play(LINE, RATE_HZ)
        speaker.play(-LINE, RATE_HZ)
    left = heard(deck)
    np.testing.assert_array_equal(left[:, 0], left[:, 1])
    loud = np.flatnonzero(left[:, 0])
    assert loud.size == 2 * LINE.size
    np.testing.assert_array_equal(left[loud, 0], np.repeat([0.25, -0.25], LINE.size))
    assert loud[0] >= LEAD_IN_S * RATE_HZ


def test_lead_in_only_after_a_pause(deck: Deck) -> None:
    now_s = [100.0]
    with Speaker(clock=lambda: now_s[0]) as speaker:
        lengths = []
        for pause_s in (0.0, 0.1, play.IDLE_AFTER_S + 0.1):
            now_s[0] += pause_s
            lengths.append(speaker._with_lead_in(np.ones(10, np.float32)).size - 10)
            speaker._idle_since_s = now_s[0]
    assert lengths == [LEAD_IN_S * RATE_HZ, 0, LEAD_IN_S * RATE_HZ]


def test_line_at_another_rate_lasts_as_long(deck: Deck) -> None:
    line = (8000 * np.sin(np.arange(22_050) * 0.1)).astype(np.int16)
    with Speaker() as speaker:
        speaker.play(line, 22_050)
    assert np.count_nonzero(np.abs(heard(deck)[:, 0]) > 0.001) == pytest.approx(RATE_HZ, rel=0.02)


def test_stop_from_another_thread_ends_the_line(deck: Deck) -> None:
    with Speaker() as speaker:
        deck.on_block = lambda out: speaker.stop() if out.any() else None
        assert speaker.play(np.full(600 * RATE_HZ, 8192, np.int16), RATE_HZ) is False
        assert np.count_nonzero(heard(deck)[:, 0]) <= 2 * BLOCK
        deck.on_block = lambda out: None
        assert speaker.play(LINE, RATE_HZ) is True


def test_speaker_that_takes_nothing_is_said(deck: Deck, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(play, "LOST_AFTER_S", 0.1)
    monkeypatch.setattr(play, "open_stream", lambda way, device, callback: deck)
    monkeypatch.setattr(play, "close_stream", lambda stream: None)
    with Speaker() as speaker, pytest.raises(NoSpeaker, match="takes no sound any more"):
        speaker.play(LINE, RATE_HZ)


def test_closed_speaker_refuses(deck: Deck) -> None:
    with Speaker() as speaker:
        pass
    with pytest.raises(NoSpeaker, match="closed"):
        speaker.play(LINE, RATE_HZ)


def test_silent_speaker_counts() -> None:
    with SilentSpeaker() as speaker:
        speaker.play(LINE, RATE_HZ)
        speaker.play(LINE, RATE_HZ)
    assert (speaker.lines, speaker.played_s) == (2, 0.25)
