"""The shape of a sequence file: its tables, their keys and types. What they mean together is sequence's work."""

from __future__ import annotations

from pydantic import Field

from assistant.language.files import Strict


class CheckShape(Strict):
    id: str = Field(min_length=1)
    title: str
    language: str
    valid_minutes: float = Field(gt=0)
    caution: str = Field(min_length=1)
    closing: str
    start: list[str] = Field(min_length=1)
    after_dive: bool = False


class ItemShape(Strict):
    id: str = Field(min_length=1)
    name: str = Field(min_length=1)
    another: str = ""


class NumberShape(Strict):
    name: str = Field(min_length=1)
    kind: str
    low: float
    high: float
    say: str = ""


class ReadingShape(Strict):
    judge: str = Field(min_length=1)
    phrases: list[str] = Field(min_length=1)
    number: list[NumberShape] = Field(min_length=1)
    faults: dict[str, str] = Field(default_factory=dict)
    needed: bool = True
    since: str = ""


class FaultShape(Strict):
    code: str = Field(min_length=1)
    name: str = Field(min_length=1)
    item: str | None = None
    phrases: list[str] = Field(min_length=1)
    say: str
    remedy: str


class StepShape(Strict):
    id: str = Field(min_length=1)
    name: str = Field(min_length=1)
    item: str
    also: list[str] = Field(default_factory=list)
    prompt: str = Field(min_length=1)
    explain: str = Field(min_length=1)
    critical: bool
    absent: bool = False
    after: list[str] = Field(default_factory=list)
    passes: list[str] = Field(alias="pass", default_factory=list)
    examples: list[str] = Field(min_length=2, max_length=2)
    reading: ReadingShape | None = None
    fault: list[FaultShape] = Field(min_length=1)


class SequenceShape(Strict):
    check: CheckShape
    rules: dict[str, str] = Field(default_factory=dict)
    item: list[ItemShape] = Field(min_length=1)
    step: list[StepShape] = Field(min_length=1)
