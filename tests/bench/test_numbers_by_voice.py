"""A sample of the round trip over spoken numbers: none is taken as another, and nearly all are understood at once."""

from __future__ import annotations

import bench_numbers
import pytest
import voices

TALKERS = [voices.VOICES[name] for name in ("espeak-en-us", "espeak-en-gb-x-rp+m2")]
STRIDES = {"pressure": 67, "pressure_psi": 97, "oxygen": 41, "month_year": 131, "number": 201, "depth_m": 53,
           "depth_ft": 211, "minutes": 211, "temperature_degc": 37}  # fmt: skip
MOST_AGAIN = 4  # of some 36


@pytest.fixture(scope="module")
def heard() -> list[tuple[str, ...]]:
    if lacking := voices.missing(TALKERS):
        pytest.skip(f"voices missing: {lacking}")
    round_ = bench_numbers.Round()
    plays = (bench_numbers.play(round_, [kind], STRIDES[kind.name], TALKERS) for kind in bench_numbers.KINDS)
    return [row for rows in plays for row in rows]


def test_no_number_is_taken_for_another(heard: list[tuple[str, ...]]) -> None:
    print("\n".join(bench_numbers.table(heard, 0)))
    assert len(heard) >= 30
    assert [row for row in heard if row[2] == "wrong"] == []


def test_nearly_all_are_understood_at_once(heard: list[tuple[str, ...]]) -> None:
    again = [row for row in heard if row[2] == "again"]
    print(again)
    assert len(again) <= MOST_AGAIN


def test_every_kind_of_number_has_its_round() -> None:
    """A new kind of numbers.toml must be said here too; air and pressure_odd stand for no value to be kept."""
    kinds = {kind.name for kind in bench_numbers.KINDS}
    assert kinds | {"air", "pressure_odd", "percent"} == set(bench_numbers.numbers_file().kind)
