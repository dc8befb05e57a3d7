"""Settings: every default says where it comes from, a centre's file lies over it, bad ones are refused by key."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.errors import BadInput
from assistant.sums import settings, tables


def test_every_default_says_where_it_comes_from() -> None:
    found = settings.sources(tables.built_in("settings"))
    assert len(found) == 44
    named = {key: source for key, source in found.items() if source != "common practice, no source"}
    assert named == {
        "plan.ascent_m_min": "US Navy Diving Manual Rev 4 Change A p 8-3: 30 ft/min",
        "mix.exposure_table": "NOAA Diving Manual, 4th edition, 2001",
    }


def test_a_centres_file_lies_over_the_built_in_one(tmp_path: Path) -> None:
    own = tmp_path / "centre.toml"
    own.write_text('[plan]\nrmv_l_min = 25\n[leak]\nlimit_l_min = { value = 0.2, source = "ours" }\n', encoding="utf-8")
    found = settings.load(own)
    assert (found.plan.rmv_l_min, found.leak.limit_l_min, found.plan.stop_m) == (25, 0.2, 5)
    assert settings.load() is settings.defaults()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[plan]\nrmv_l_min = 500\n", "plan.rmv_l_min was understood as 500"),
        ("[plan]\nrmv_l_min = 'much'\n", "plan.rmv_l_min was understood as 'much'"),
        ("[plan]\nrmv_l_min = true\n", "plan.rmv_l_min was understood as True"),
        ("[plan]\nrmv_psi = 20\n", "plan.rmv_psi"),
        ("[plans]\nrmv_l_min = 20\n", "plans was understood"),
        ("[dates]\nmonth_only = 'middle'\n", "dates.month_only was understood as 'middle'"),
        ("plan = 3\n", "plan was understood as 3"),
        ("[plan\n", "is no TOML file"),
    ],
)
def test_bad_files_are_refused_by_key(tmp_path: Path, text: str, message: str) -> None:
    own = tmp_path / "centre.toml"
    own.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as refusal:
        settings.load(own)
    assert message in str(refusal.value)
    assert "centre.toml" in str(refusal.value)
    assert refusal.value.mend


def test_a_missing_file_is_refused() -> None:
    with pytest.raises(BadInput, match=r"nowhere\.toml cannot be read: No such file"):
        settings.load(Path("nowhere.toml"))
