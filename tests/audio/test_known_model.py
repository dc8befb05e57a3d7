"""The sums in known.py are those of the real model; checked against sha256sum, a program of its own."""

from __future__ import annotations

import subprocess
from pathlib import Path

from audio import known


def test_real_model_has_the_known_sums(model_folder: Path, tmp_path: Path) -> None:
    assert known.verify(model_folder) == []
    sums = "".join(f"{digest}  {name}\n" for name, (_, digest) in known.FILES.items())
    (tmp_path / "sums").write_text(sums)
    checked = subprocess.run(["sha256sum", "--check", "--quiet", tmp_path / "sums"], cwd=model_folder, check=False)
    assert checked.returncode == 0
