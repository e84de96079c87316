"""A disk that is full: a tmpfs of 400 kB in a mount namespace of its own, or a limit where none may be had."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
NOT_ALLOWED = 99
MOUNTED = f'mount -t tmpfs -o size=400k tmpfs "$0" || exit {NOT_ALLOWED}; exec "$@"'

pytestmark = pytest.mark.process


def _lived(folder: Path) -> dict[str, object]:
    command = [sys.executable, "-m", "tests.journal.small_disk", str(folder)]
    own_mount = ["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", MOUNTED, str(folder)]
    done = _run([*own_mount, *command, "tmpfs"])
    if done.returncode in {1, NOT_ALLOWED} and not done.stdout and "Traceback" not in done.stderr:
        done = _run([*command, "limit"])  # containers often forbid mounts
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert isinstance(told, dict)
    return told


def _run(command: list[str]) -> subprocess.CompletedProcess[str]:
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path])}
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=60, check=False)


def test_a_full_disk_is_told_and_nothing_recorded_meanwhile_is_lost_once_there_is_room(tmp_path: Path) -> None:
    lived = _lived(tmp_path)
    assert str(lived["why"]).startswith("the disk ")
    told, ticks = lived["told"], lived["ticks"]
    assert isinstance(told, list)
    assert isinstance(ticks, int)
    assert len(told) <= ticks - 20, "the disk was never full"
    assert told[-1] == ticks - 1
    assert lived["recorded"]
