"""One turn of listening: frames in, one decision out.

The same code hears the microphone, a file, a test and a benchmark. It counts time in frames,
never by a clock, so a recording gives the same decision at any speed. It ends a turn when a
whole phrase was said and it has been quiet long enough for that kind of phrase: a pass waits
longer than a fault, a phrase that could go on longer still. Sound that holds no listed word is
left alone (an engine, a gull, talk on the radio), and the window closes on it in the end.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from assistant.events import Care, Doubted, Heard, Hearing, Listening, Match, Silent, Why
from audio import opinion
from audio.activity import Activity
from audio.around import voice_around
from audio.frames import FRAME_S, Frame
from audio.gate import Ruling, doubtful, rule, with_agreement, with_lone
from audio.recognise import Decoding, Reading, Recogniser
from audio.turn import Settings, Turn


class Ear:
    """Listens on one recogniser. Not for use by two threads at once."""

    def __init__(self, recogniser: Recogniser, settings: Settings | None = None) -> None:
        self._recogniser, self._opinion = recogniser, opinion.load()
        self._settings = settings or Settings()

    def listen(self, frames: Iterable[Frame], listening: Listening, window_s: float = 8.0) -> Hearing:
        """Hear one answer.

        `frames`: int16 arrays of 320 samples at 16 kHz, none of them our own voice; when they end,
        the turn ends. `window_s`: how long to wait for somebody to begin. Returns Heard, Doubted or
        Silent; errors of the source (MicrophoneLost, BadRecording) pass through.
        """
        turn = Turn(listening)
        activity = Activity()
        pre_roll: deque[tuple[Frame, bool, float]] = deque(maxlen=round(self._settings.pre_roll_s / FRAME_S))
        for frame in frames:
            turn.now_s += FRAME_S
            is_voice = activity.take(frame) >= self._settings.voice_from
            if turn.begun_s is None:
                pre_roll.append((frame, is_voice, activity.level.now_db))
                turn.noise_db = activity.level.floor_db
                if is_voice:
                    self._begin(turn, list(pre_roll))
                elif turn.now_s >= window_s:
                    return Silent(turn.now_s)
                continue
            outcome = self._follow(turn, frame, is_voice, activity)
            if outcome is not None:
                return outcome
            if turn.begun_s is None:
                pre_roll.clear()
        return self._close(turn)

    def _begin(self, turn: Turn, before: list[tuple[Frame, bool, float]]) -> None:
        turn.begun_s = turn.voice_s = turn.now_s
        turn.early = turn.now_s <= 3 * FRAME_S
        turn.segment, turn.speech_db = [frame for frame, _, _ in before], -100.0
        turn.is_voice = [is_voice for _, is_voice, _ in before]
        turn.levels_db = [level_db for _, _, level_db in before]
        self._decode(turn)

    def _decode(self, turn: Turn) -> None:
        """A fresh decoding over all of the segment so far."""
        turn.decoding = self._recogniser.begin(turn.listening.phrases, self._settings.alternatives)
        turn.ruling, turn.rivals = None, None
        self._feed(turn, turn.samples)

    def _feed(self, turn: Turn, samples: Frame) -> None:
        if turn.decoding is None:
            return
        turn.decoding.feed(samples)
        if turn.rivals is not None:
            turn.rivals.feed(samples)
        elif self._nears_pass(turn, turn.decoding):
            turn.rivals = self._begin_rivals(turn)

    def _nears_pass(self, turn: Turn, decoding: Decoding) -> bool:
        is_time = len(turn.segment) % self._settings.peek_frames == 0
        return bool(turn.listening.rivals) and is_time and turn.listening.nears_firm(decoding.partial())

    def _begin_rivals(self, turn: Turn) -> Decoding:
        rivals = self._recogniser.begin(turn.listening.rivals, self._settings.alternatives)
        rivals.feed(turn.samples)
        return rivals

    def _follow(self, turn: Turn, frame: Frame, is_voice: bool, activity: Activity) -> Hearing | None:
        turn.segment.append(frame)
        turn.is_voice.append(is_voice)
        turn.levels_db.append(activity.level.now_db)
        if is_voice:
            turn.voice_s = turn.now_s
            turn.speech_db = max(turn.speech_db, activity.level.now_db)
            if turn.ruling is not None:
                self._decode(turn)
            else:
                self._feed(turn, frame)
            return self._give_up(turn) if len(turn.segment) * FRAME_S > self._settings.longest_s else None
        if turn.ruling is None:
            self._feed(turn, frame)
        return self._settle(turn, turn.now_s - turn.voice_s)

    def _give_up(self, turn: Turn) -> Hearing | None:
        """It goes on too long for an answer: a doubt, or talk that is none of ours."""
        if self._read(turn).match:
            return self._doubt(turn, Why.TOO_LONG)
        self._write(turn)
        return self._leave_or_doubt(turn, Why.TOO_LONG)

    def _settle(self, turn: Turn, quiet_s: float) -> Hearing | None:
        pauses = self._settings.pauses
        if turn.ruling is None:
            if quiet_s < pauses.plain_s:
                return None
            self._rule(turn)
        assert turn.ruling is not None
        if quiet_s < self._pause_s(turn) - FRAME_S / 2:
            return None
        is_close = any(turn.listening.match(reading.tokens) for reading in turn.readings)
        if turn.ruling.match is None and is_close and quiet_s - turn.ruled_at_s > 2 * FRAME_S:
            self._decode(turn)  # the last sounds may only now be complete
            self._rule(turn)
            if turn.ruling.match is not None and quiet_s < self._pause_s(turn):
                return None
        return self._conclude(turn)

    def _pause_s(self, turn: Turn) -> float:
        pauses, match = self._settings.pauses, turn.ruling.match if turn.ruling else None
        if match is None:
            return pauses.unclear_s
        if turn.listening.goes_on(match.words):
            return pauses.goes_on_s
        if match.care.is_firm or (match.care is Care.WEIGHTY and match.is_unsure):
            return pauses.firm_s
        return pauses.number_s if match.care is Care.NUMBER else pauses.plain_s

    def _read(self, turn: Turn) -> Ruling:
        assert turn.decoding is not None
        turn.readings = turn.decoding.finish()
        turn.ruling = rule(turn.readings, turn.listening, self._settings.firm)
        return turn.ruling

    def _rule(self, turn: Turn) -> None:
        match = self._read(turn).match
        if match is not None and match.care.is_firm:
            turn.ruling = self._rule_firmly(turn, match)
        elif match is not None and match.is_unsure and turn.ruling:
            turn.ruling = self._with_lone(turn, turn.ruling)
        turn.ruled_at_s = turn.now_s - turn.voice_s

    def _rule_firmly(self, turn: Turn, match: Match) -> Ruling:
        """With a second decoding, and a second recogniser. They cost more than the first, so only what nears a pass has
        the one, from a word short of it on, and only a pass waits for the other; it waits anyway."""
        samples = turn.samples
        margins = self._settings.final if match.care is Care.FINAL else self._settings.firm
        with ThreadPoolExecutor(1) as beside:
            taken_in = beside.submit(self._opinion.take_in, samples)
            rivals = self._rivals(turn) if turn.listening.rivals else None
        ruling = rule(turn.readings, turn.listening, margins, rivals)
        if ruling.match is None:
            return ruling
        others = doubtful(match, turn.listening, turn.readings, rivals)
        weighed = self._opinion.weigh(taken_in.result(), match.text, others)
        ruling = rule(turn.readings, turn.listening, margins, rivals, weighed)
        if ruling.match is None or match.care is Care.FINAL:
            return ruling
        is_sure = rule(turn.readings, turn.listening, self._settings.sure, rivals, weighed).match is not None
        return ruling if is_sure else replace(ruling, match=replace(ruling.match, is_unsure=True))

    def _rivals(self, turn: Turn) -> tuple[Reading, ...]:
        decoding, turn.rivals = turn.rivals or self._begin_rivals(turn), None
        return decoding.finish()

    def _with_lone(self, turn: Turn, ruling: Ruling) -> Ruling:
        """With a decoding against lone words; some 40 ms, for which no sure phrase waits."""
        if not turn.listening.lone or sum(turn.is_voice) * FRAME_S > self._settings.lone_s:
            return ruling
        decoding = self._recogniser.begin(turn.listening.lone, self._settings.alternatives)
        decoding.feed(turn.samples)
        return with_lone(ruling, decoding.finish(), turn.listening, self._settings.firm)

    def _conclude(self, turn: Turn) -> Hearing | None:
        assert turn.ruling is not None
        if turn.ruling.match is None:
            turn.ruling = self._with_lone(turn, turn.ruling)
        if turn.ruling.match is None:
            self._write(turn)
            turn.ruling = self._agreed(turn, turn.ruling) or turn.ruling
        if turn.ruling.match is None:
            return self._leave_or_doubt(turn, turn.ruling.why or Why.NO_PHRASE)
        has_more = self._has_more(turn, turn.ruling)
        why = self._mistrust(turn, turn.ruling, has_more) if turn.ruling.match.care.is_firm else None
        if why is Why.MORE and (agreed := self._agreed(turn, turn.ruling)):
            turn.ruling, why = agreed, None
        if why:
            return self._doubt(turn, why)
        match = turn.ruling.match
        assert match is not None
        is_half = self._is_drowned(turn, match.care) or (has_more and match.care is Care.WEIGHTY)
        return Heard(replace(match, is_unsure=match.is_unsure or is_half), turn.evidence())

    def _write(self, turn: Turn) -> None:
        """Ask the second recogniser what it writes down where no phrase was found: it may be one, or talk."""
        assert turn.ruling is not None
        if turn.ruling.why is Why.NO_PHRASE and not turn.is_mostly_talk:
            turn.ruling = replace(turn.ruling, written=self._opinion.write(turn.samples).strip())

    def _agreed(self, turn: Turn, ruling: Ruling) -> Ruling | None:
        is_clear = turn.above_noise_db >= self._settings.clear_db
        return with_agreement(ruling, turn.readings, turn.listening, self._settings.firm, is_clear)

    def _is_drowned(self, turn: Turn, care: Care) -> bool:
        """True where the deck is loud: "I think", or the first figure of a number, may be lost in it."""
        if care in (Care.FIRM, Care.NUMBER):
            return turn.above_noise_db < self._settings.clear_db
        return care is Care.WEIGHTY and turn.above_noise_db < self._settings.weighty_clear_db

    def _has_more(self, turn: Turn, ruling: Ruling) -> bool:
        """True when a voice was heard beside the words."""
        around = voice_around(ruling.words, turn.is_voice, turn.levels_db)
        ruling.numbers.update(
            voice_before_s=around.before_s, voice_after_s=around.after_s, above_noise_db=turn.above_noise_db
        )
        return max(around.before_s, around.after_s) > self._settings.more_s

    def _leave_or_doubt(self, turn: Turn, why: Why) -> Doubted | None:
        """What is no answer is left alone when it was not meant for us, and asked again otherwise."""
        if self._is_nothing(turn):
            turn.begun_s = None
            return None
        return self._doubt(turn, why)

    def _mistrust(self, turn: Turn, ruling: Ruling, has_more: bool) -> Why | None:
        """What else speaks against a pass: it began before our own voice ended, the sound is spoilt, more was said."""
        clipped = turn.clipped
        ruling.numbers.update(clipped=clipped)
        if turn.early:
            return Why.EARLY
        if clipped > self._settings.clipped:
            return Why.TOO_LOUD
        if turn.above_noise_db < self._settings.above_noise_db:
            return Why.TOO_FAINT
        return Why.MORE if has_more else None

    def _is_nothing(self, turn: Turn) -> bool:
        """Mostly talk, or no phrase and, to the second recogniser, about something else: not meant for us."""
        if turn.is_mostly_talk:
            return True
        assert turn.ruling is not None
        if turn.ruling.why is not Why.NO_PHRASE:
            return False
        return not turn.listening.is_about(tuple(opinion.plain_words(turn.ruling.written)))

    def _close(self, turn: Turn) -> Hearing:
        """The frames ended."""
        if turn.begun_s is None:
            return Silent(turn.now_s)
        if turn.ruling is None or turn.ruling.match is None:
            self._decode(turn)
            self._rule(turn)
        return self._conclude(turn) or Silent(turn.now_s)

    def _doubt(self, turn: Turn, why: Why) -> Doubted:
        text = turn.ruling.text if turn.ruling else ""
        return Doubted(why, text, evidence=turn.evidence())
