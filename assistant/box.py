"""The box on the rail: button, lights and watchdog joined to a conversation.

The button is looked at with every frame of the microphone, so it is answered within 20 ms while we listen; while we
speak, it ends the line. The lights follow what is done, never what is hoped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from assistant.app import Ears, Mouth
from assistant.check.turns import Expects, Fact, Pressed, Record, Start
from assistant.errors import SwitchedOff
from assistant.events import Care, Heard, Match, Silent
from assistant.language.expected import Expected
from assistant.record import Clip
from audio.capture import Microphone
from audio.frames import Frame
from audio.play import Sounder
from hardware.panel import Gesture, Panel
from hardware.rhythm import State

SHOWN = {"start": State.READY, "waiting": State.HOLD}  # all else: listening
BETWEEN = ("nothing", "group")  # nobody's check is open: the light of the last verdict stays
NEXT = Heard(Match((), "command:next", Care.PLAIN))  # nobody said it: the button was pressed between two divers


def nothing() -> None:
    """Done with every frame while nobody listens for an answer."""


class Touched(Exception):
    """No error: it carries a gesture out of the ear, since somebody used the button while we listened."""

    def __init__(self, gesture: Gesture) -> None:
        super().__init__(gesture.value)
        self.gesture = gesture


class TouchedMicrophone(Microphone):
    """A microphone that does `each_frame` with every frame it gives; what that raises ends the listening."""

    each_frame: Callable[[], None] = staticmethod(nothing)

    def __iter__(self) -> Iterator[Frame]:
        for frame in super().__iter__():
            self.each_frame()
            yield frame


class BoxEars:
    """Ears with a button. `turned` is called with every frame, `save` when the button is held before a check."""

    def __init__(
        self, ears: Ears, microphone: TouchedMicrophone, panel: Panel, turned: Callable[[], None],
        save: Callable[[], object],
    ) -> None:
        self._ears, self._microphone, self._panel, self._turned, self._save = ears, microphone, panel, turned, save
        self.by = ears.by
        self.closed_as = State.READY  # what is shown once the verdict is given

    def hear(self, expects: Expects, expected: Expected) -> Fact:
        """One answer or one gesture. Raises SwitchedOff for a long hold; nothing that was answered is lost by it."""
        self._panel.show(self.closed_as if expects.kind in BETWEEN else SHOWN.get(expects.kind, State.LISTENING))
        self._microphone.each_frame = self._look
        try:
            return self._ears.hear(expects, expected)
        except Touched as touched:
            return self._meant(touched.gesture, expects, expected)
        finally:
            self._microphone.each_frame = nothing

    def _look(self) -> None:
        self._turned()
        gesture = self._panel.gesture()
        if gesture is not None:
            raise Touched(gesture)

    def _meant(self, gesture: Gesture, expects: Expects, expected: Expected) -> Fact:
        if gesture is Gesture.HOLD and expects.kind in ("start", *BETWEEN):
            self._panel.show(State.SAVING)
            self._save()
            return self.hear(expects, expected)
        return meant(gesture, expects.kind)

    def note(self, window_s: float) -> Clip | None:
        """As the ears do; the button waits until the note is over."""
        self._panel.show(State.LISTENING)
        return self._ears.note(window_s)

    def reopen(self) -> bool:
        """As the ears do; meanwhile there is trouble to be seen."""
        self._panel.show(State.TROUBLE)
        return self._ears.reopen()


def meant(gesture: Gesture, kind: str) -> Fact:
    """What the button means while this is listened for. Raises SwitchedOff for a long hold."""
    if gesture is Gesture.LONG_HOLD:
        raise SwitchedOff("The button was held long.", "Switch on again: the check goes on where it was.")
    if kind == "start":
        return Start(by="key")
    if kind == "group":
        return NEXT
    if kind == "nothing":
        return Silent(0.0)
    if gesture is Gesture.HOLD:
        return Pressed("wait")
    return Pressed("carry_on" if kind == "waiting" else "repeat")


class BoxMouth:
    """A mouth whose line a press ends: then it is the diver's turn at once."""

    def __init__(self, mouth: Mouth, speaker: Sounder, panel: Panel) -> None:
        self._mouth, self._speaker, self._panel = mouth, speaker, panel

    def say(self, text: str) -> None:
        """Say it, with the light for speaking; a press during it is used up, a hold still counts."""
        if self._panel.state is not State.SAVING:
            self._panel.show(State.SPEAKING)
        self._panel.on_gesture = self._speaker.stop
        try:
            self._mouth.say(text)
        finally:
            self._panel.on_gesture = nothing
            self._panel.forget()


class BoxWitness:
    """Keeps what light the end of a check leaves: ready only for a verdict that is ready."""

    def __init__(self, ears: BoxEars) -> None:
        self._ears = ears

    def said(self, text: str) -> None:
        """Heard by everybody; nothing to keep."""

    def heard(self, fact: Fact) -> None:
        """In the record; nothing to keep."""

    def recorded(self, records: Sequence[Record]) -> None:
        """A verdict sets the light."""
        for record in records:
            if record.kind in ("verdict_given", "boat_judged"):
                self._ears.closed_as = State.READY if record.facts["verdict"] == "ready" else State.HOLD
