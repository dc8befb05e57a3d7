"""The folder that a box is installed from: its sums hold for sha256sum and the installer, pip's refusal is told."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from assistant.commands import wheels
from assistant.errors import BadInput
from hardware import install


def test_sums_are_as_sha256sum_reads_them(tmp_path: Path) -> None:
    for name in ("model/graph/Gr.fst", "kitcall-1-py3-none-any.whl", "install.py"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(name)
    assert wheels.write_sums(tmp_path) == 3
    done = subprocess.run(["sha256sum", "--check", wheels.SUMS], cwd=tmp_path, capture_output=True, check=False)
    assert done.returncode == 0
    install.check_sums(tmp_path)


def test_what_the_installer_needs_is_taken_along(tmp_path: Path) -> None:
    hardware = Path(str(install.__file__)).parent
    for name in wheels.INSTALLER:
        wheels.take(hardware / name, tmp_path / name)
    taken = {path.name for path in (tmp_path / "service").iterdir()}
    assert {*install.UNITS, "pipewire.conf", "journald@kitcall.conf", "99-kitcall-stick.rules"} <= taken
    assert (tmp_path / "install.py").is_file()


def test_pip_that_fails_is_told() -> None:
    with pytest.raises(BadInput, match="pip download failed") as refused:
        wheels.pip("download", "--no-index", "kitcall-is-in-no-folder")
    assert refused.value.mend
