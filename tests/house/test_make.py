"""What make says on a machine that cannot run Kettlebridge."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from tests.house.tree import ROOT

PYTHONS = {
    "does not run": ("exit 1", "does not run"),
    "is too old": ("echo 3.9", "is Python 3.9"),
    "is too new": ("echo 3.14", "is Python 3.14"),
    "has no venv module": ('case "$*" in *version_info*) echo 3.11;; *) exit 1;; esac', "lacks its venv module"),
}
"""What a stand-in for python3 does, and what make must say of it."""


def make_demo(python: Path | str, venv: Path) -> subprocess.CompletedProcess[str]:
    """Run ``make demo`` as from a fresh shell, whoever runs these tests."""
    environment = {key: value for key, value in os.environ.items() if key not in {"MAKEFLAGS", "MFLAGS", "MAKELEVEL"}}
    command = ["make", "demo", f"PYTHON={python}", f"VENV={venv}"]
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False, timeout=30)


@pytest.mark.parametrize("kind", PYTHONS)
def test_unsuitable_python_is_one_clear_line_and_exit_code_2(kind: str, tmp_path: Path) -> None:
    script, said = PYTHONS[kind]
    python = tmp_path / "python3"
    python.write_text(f"#!/bin/sh\n{script}\n")
    python.chmod(0o755)
    done = make_demo(python, tmp_path / "venv")
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert said in done.stderr
    assert "PYTHON=" in done.stderr
    assert not (tmp_path / "venv").exists()


def test_missing_python_is_one_clear_line_and_exit_code_2(tmp_path: Path) -> None:
    done = make_demo(tmp_path / "no-such-python", tmp_path / "venv")
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "does not run" in done.stderr
