"""Every error kitcall raises on purpose, in one tree.

Each carries two sentences for a person: what is wrong (the message) and what to
do about it (`mend`). Nothing here knows any other room.

    KitcallError
    ├── GrammarError        a sequence or phrase file is refused
    │   └── PhraseError     one phrase of it cannot be read
    ├── AudioError          sound in or out
    │   ├── NoMicrophone    ├── NoSpeaker   ├── MicrophoneLost
    │   ├── BadRecording    └── VoiceFailed
    ├── ModelError          the recogniser's model is missing or not the one we know
    ├── StoreError          the record
    │   ├── StoreBusy       ├── StoreFull   ├── StoreNewer
    │   └── StoreDamaged
    ├── NoStick             no memory stick for a copy, or several
    ├── ShareError          the copy over the network
    ├── PanelError          the button and lights cannot be used
    ├── SwitchedOff         the button was held long: the box goes off (no fault)
    ├── BadInput            a number, name or option that cannot be meant
    └── UnknownTurn         a fact the session's table has no row for (a bug of ours)
"""

from __future__ import annotations


class KitcallError(Exception):
    """Base of all refusals. `str(error)` says what is wrong, `error.mend` what to do."""

    def __init__(self, message: str, mend: str = "") -> None:
        super().__init__(message)
        self.mend = mend


class GrammarError(KitcallError):
    """A file under grammars/ (or a centre's copy) is refused; `where` is `file:line` or `file: key`."""

    def __init__(self, message: str, mend: str = "", where: str = "") -> None:
        super().__init__(f"{where}: {message}" if where else message, mend)
        self.where = where


class PhraseError(GrammarError):
    """One phrase is not in the subset of the notation that kitcall reads."""


class AudioError(KitcallError):
    """Sound cannot come in or go out."""


class NoMicrophone(AudioError):
    """No capture device of that name, or none at all."""


class MicrophoneLost(AudioError):
    """A microphone that was there has stopped giving frames."""


class NoSpeaker(AudioError):
    """No playback device of that name, or none at all."""


class BadRecording(AudioError):
    """A sound file cannot be read as speech."""


class VoiceFailed(AudioError):
    """The synthesiser gave no sound within its deadline."""


class ModelError(KitcallError):
    """The recogniser's model is missing, incomplete or not the one we know."""


class StoreError(KitcallError):
    """The record cannot be opened, read or written."""


class StoreBusy(StoreError):
    """Another kitcall holds this store."""


class StoreFull(StoreError):
    """No space (or a failing disk): what was said last is not recorded."""


class StoreNewer(StoreError):
    """The store was written by a newer kitcall."""


class StoreDamaged(StoreError):
    """The store cannot be read, or its chain of hashes does not hold."""


class NoStick(KitcallError):
    """There is no memory stick that a copy could go to, or more than one."""


class ShareError(KitcallError):
    """The record cannot be given to, or fetched by, another machine; it is whole where it was."""


class PanelError(KitcallError):
    """Button and lights cannot be used."""


class SwitchedOff(KitcallError):
    """Somebody held the button long: close everything, then the box may go off. What was answered is kept."""


class BadInput(KitcallError):
    """A value that cannot be meant; the message says what was understood and what is expected."""


class UnknownTurn(KitcallError):
    """The session met a fact that its table has no row for in this state."""
