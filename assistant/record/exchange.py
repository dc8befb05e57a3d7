"""The published form of the record, version 1: UTF-8 JSON lines that import back without loss.

    {"line":"head","format":"kitcall-events","version":1}
    {"line":"event","seq":…,"session":…, … ,"facts":{…},"prev_hash":…,"hash":…}     one for each event, in order
    {"line":"words","digest":…,"salt":"hex","text":…}        what lies apart: words about people
    {"line":"clip","digest":…,"rate_hz":…,"seconds":…,"wav":"base64"}
    {"line":"end","events":…,"words":…,"clips":…}

An event's fields are those its hash covers (chain.py says how), so any reader can check the chain. A removed
name or clip is simply not there. A file continues the record it is imported into: events that the record has
already must be the same, what follows is added in one transaction, all of it or nothing.
"""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from operator import itemgetter
from typing import Any

from assistant.errors import BadInput
from assistant.record.chain import FIELDS, Link, canonical
from assistant.record.log import Log
from assistant.record.personal import Clip, Words, digest_of
from assistant.record.read import Reader

FORMAT, VERSION = "kitcall-events", 1
MEND = "Export the record again, and import that file whole. Nothing was added."
_compact = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode
_decoded = json.JSONDecoder().raw_decode
_before = itemgetter(*FIELDS[: FIELDS.index("facts")])
_after = itemgetter(*FIELDS[FIELDS.index("facts") + 1 :])
Progress = Callable[[int], None]


def export_lines(reader: Reader, since: str = "", until: str = "") -> Iterator[str]:
    """The record as lines without line ends. Reads in pages; what is written meanwhile may still come in.

    With days (UTC, `YYYY-MM-DD`), only events of these: to read, not to import.
    """
    yield _compact({"line": "head", "format": FORMAT, "version": VERSION})
    counts = {"events": 0, "words": 0, "clips": 0}
    for entry in reader.entries():
        day = entry.wall_utc[:10]
        if (not since or day >= since) and (not until or day <= until):
            counts["events"] += 1
            yield _compact(_event_line(entry.link))
    for words in reader.all_words():
        counts["words"] += 1
        yield _compact({"line": "words", "digest": words.digest, "salt": words.salt.hex(), "text": words.text})
    for clip in reader.all_clips():
        counts["clips"] += 1
        wav = base64.b64encode(clip.wav).decode("ascii")
        yield _compact({"line": "clip", "digest": clip.digest, "rate_hz": clip.rate_hz, "seconds": clip.seconds,
                        "wav": wav})  # fmt: skip
    yield _compact({"line": "end", **counts})


def _event_line(link: Link) -> dict[str, object]:
    return {"line": "event"} | link._asdict() | {"facts": json.loads(link.facts)}


def import_lines(log: Log, lines: Iterable[str], progress: Progress = lambda events: None) -> int:
    """Adds what the record does not have yet; returns how many events that were.

    Raises BadInput, with the line, for anything that is not this form, is cut off, was changed, or does not
    continue this record; then nothing was added. Raises StoreFull and its kin as Log does.
    """
    incoming = _Incoming(lines)
    added = log.adopt(incoming.links(progress), lambda: (incoming.words, incoming.clips))
    return added


class _Incoming:
    """The lines of a file as links; words and clips are there once all links were taken."""

    def __init__(self, lines: Iterable[str]) -> None:
        self._lines = lines
        self.words: list[Words] = []
        self.clips: list[Clip] = []

    def links(self, progress: Progress) -> Iterator[Link]:
        events, ended = 0, False
        for at, text in enumerate(self._lines, start=1):
            line = _parsed(text, at)
            kind = line.get("line")
            if (at == 1) != (kind == "head") or ended:
                raise _refused(at, "a line stands where none may")
            try:
                if kind == "event":
                    events += 1
                    yield _link(line)
                    if events % 1000 == 0:
                        progress(events)
                else:
                    ended = self._take(line, at, events)
            except (KeyError, TypeError, ValueError, binascii.Error) as error:
                raise _refused(at, f"it cannot be read ({error!r})") from error
        if not ended:
            raise BadInput("The file is cut off: its last line is missing.", MEND)
        progress(events)

    def _take(self, line: Mapping[str, Any], at: int, events: int) -> bool:
        match line["line"]:
            case "head":
                _check_head(line)
            case "words":
                words = Words(line["digest"], bytes.fromhex(line["salt"]), str(line["text"]))
                _check_digest(words.digest, digest_of(words.salt, words.text))
                self.words.append(words)
            case "clip":
                wav = base64.b64decode(line["wav"], validate=True)
                self.clips.append(Clip(wav, int(line["rate_hz"]), float(line["seconds"])))
                _check_digest(line["digest"], self.clips[-1].digest)
            case "end":
                counts = {"events": events, "words": len(self.words), "clips": len(self.clips)}
                if {name: line[name] for name in counts} != counts:
                    raise _refused(at, "lines are missing before it")
                return True
            case _:
                raise _refused(at, "a line of that name is not known")
        return False


def _check_head(line: Mapping[str, Any]) -> None:
    if line.get("format") != FORMAT or not isinstance(line.get("version"), int):
        raise BadInput("This is no export of a kitcall record.", "Give a file made by: kitcall record out.")
    if line["version"] > VERSION:
        raise BadInput(f"The file has version {line['version']}; this kitcall knows {VERSION}.", "Update kitcall.")


def _check_digest(said: object, found: str) -> None:
    if said != found:
        raise ValueError("it does not match its own digest")


def _link(line: Mapping[str, Any]) -> Link:
    link = Link(*[*_before(line), canonical(line["facts"]), *_after(line), line["hash"]])
    if not (type(link.seq) is type(link.session_seq) is type(link.monotonic_us) is int):
        raise ValueError("a number is no whole number")
    return link


def _parsed(text: str, at: int) -> dict[str, Any]:
    bare = text.strip(" \t\r\n")
    try:
        line, end = _decoded(bare)  # json.loads takes twice as long, by two searches for spaces
    except ValueError as error:
        raise _refused(at, "it is no JSON") from error
    if end != len(bare):
        raise _refused(at, "it is no JSON")
    if not isinstance(line, dict):
        raise _refused(at, "it is no JSON object")
    return line


def _refused(at: int, why: str) -> BadInput:
    return BadInput(f"Line {at} of the file is refused: {why}.", MEND)
