"""Lone figures of people that everyday words, a longer number or a lost s had beaten: read back, rightly."""

from __future__ import annotations

import bench_digits
import pytest
import recordings

BEATEN = ("4_s1_40", "6_s2_05", "6_s4_40", "7_s4_35")  # of the tuning half; by "could", "there", "take", "eleven"


def test_a_beaten_figure_is_read_back_and_a_sure_one_is_not() -> None:
    if not (recordings.SPEECH / "digits").is_dir():
        pytest.skip("../shared/speech is not here")
    clips = {clip.path.stem: clip for clip in recordings.digits("tuning")}
    sure = [clip for clip in clips.values() if clip.speaker == "s5"][:4]
    rows = bench_digits.hear_all([*(clips[name] for name in BEATEN), *sure], ("number",))
    assert [row["outcome"] for row in rows] == ["agreed"] * len(BEATEN) + ["right"] * len(sure)
