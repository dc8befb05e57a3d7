"""Lone figures of people are read back, rightly; also those that everyday words, a longer number or a lost s beat."""

from __future__ import annotations

import bench_digits
import pytest
import recordings

BEATEN = ("4_s1_40", "6_s2_05", "6_s4_40", "7_s4_35")  # of the tuning half; by "could", "there", "take", "eleven"


def test_a_lone_figure_is_read_back() -> None:
    if not (recordings.SPEECH / "digits").is_dir():
        pytest.skip("../shared/speech is not here")
    clips = {clip.path.stem: clip for clip in recordings.digits("tuning")}
    others = [clip for clip in clips.values() if clip.speaker == "s5"][:4]
    rows = bench_digits.hear_all([*(clips[name] for name in BEATEN), *others], ("number",))
    assert [row["outcome"] for row in rows] == ["agreed"] * (len(BEATEN) + len(others))
