"""The sound devices PortAudio sees, chosen by name, never by number.

The only file that imports sounddevice, and only when asked: on a machine without sound the import
itself fails. PortAudio sees a device plugged in later only after rescan(), which needs every stream closed.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from enum import Enum
from types import ModuleType
from typing import Any

from assistant.errors import AudioError, NoMicrophone, NoSpeaker

LATENCY_S = 0.06  # short enough to answer at once, long enough for a USB device on a small computer
MOST_CHANNELS = 2

_open_streams = 0
_lock = threading.Lock()


class Way(Enum):
    """Which way sound goes, with what we call such a device and its error."""

    IN = ("microphone", "input", NoMicrophone)
    OUT = ("speaker", "output", NoSpeaker)

    def refuse(self, problem: str, mend: str = "") -> AudioError:
        """Make the error for this way; without `mend`, the usual advice."""
        error: type[AudioError] = self.value[2]
        return error(problem, mend or f"Plug a {self.value[0]} in, see what is there with `kitcall device`, try again.")


@dataclass(frozen=True, slots=True)
class Device:
    """A device as PortAudio lists it; rate_hz is its own rate, channels at most two."""

    index: int
    name: str
    rate_hz: int
    channels: int
    default: bool


def list_devices(way: Way) -> list[Device]:
    """Give the devices of one way, the default one marked; empty when there are none."""
    sound = _load(way)
    default = sound.default.device[0 if way is Way.IN else 1]
    listed = []
    for index, found in enumerate(sound.query_devices()):
        channels = min(found[f"max_{way.value[1]}_channels"], MOST_CHANNELS)
        if channels:
            rate_hz = int(found["default_samplerate"])
            listed.append(Device(index, found["name"], rate_hz, channels, index == default))
    return listed


def choose(way: Way, name: str | None) -> Device:
    """Give the device of that name (whole, or a part that only one has), or the default one for None.

    Raises NoMicrophone or NoSpeaker: none, no default, none of that name, or several.
    """
    devices, word = list_devices(way), way.value[0]
    if not devices:
        raise way.refuse(f"This machine has no {word}.")
    if name is None:
        fitting = [device for device in devices if device.default]
    else:
        exact = [device for device in devices if device.name == name]
        fitting = exact or [device for device in devices if name.lower() in device.name.lower()]
    if len(fitting) == 1:
        return fitting[0]
    there = ", ".join(repr(device.name) for device in fitting or devices)
    asked = f"{len(fitting) or 'no'} {word}s are named {name!r}" if name else f"No {word} is the default one"
    raise way.refuse(f"{asked[0].upper()}{asked[1:]}.", f"Name one of: {there}.")


def open_stream(way: Way, device: Device, callback: Any) -> Any:
    """Open and start a stream of float32 at the device's own rate; close it with close_stream()."""
    global _open_streams
    sound = _load(way)
    make = sound.InputStream if way is Way.IN else sound.OutputStream
    try:
        stream = make(
            samplerate=device.rate_hz, device=device.index, channels=device.channels, dtype="float32",
            latency=LATENCY_S, callback=callback,
        )
        stream.start()
    except sound.PortAudioError as error:
        raise way.refuse(f"The {way.value[0]} {device.name!r} cannot be opened: {error}") from error
    with _lock:
        _open_streams += 1
    return stream


def close_stream(stream: Any) -> None:
    """Close a stream; one whose device has gone closes too."""
    global _open_streams
    with _lock:
        _open_streams -= 1
    stream.close(ignore_errors=True)


def rescan(way: Way = Way.IN) -> bool:
    """Let PortAudio look for devices anew; False, and nothing done, while a stream is open."""
    sound = _load(way)
    with _lock:
        if _open_streams:
            return False
        try:
            sound._terminate()
            sound._initialize()
        except sound.PortAudioError as error:
            raise way.refuse(f"PortAudio finds no sound system: {error}") from error
    return True


def _load(way: Way) -> ModuleType:
    try:
        import sounddevice
    except OSError as error:
        raise way.refuse(f"PortAudio is missing: {error}", "sudo apt-get install libportaudio2") from error
    except Exception as error:  # its own PortAudioError, which cannot be imported at this moment
        raise way.refuse(f"PortAudio finds no sound system: {error}") from error
    module: ModuleType = sounddevice
    return module
