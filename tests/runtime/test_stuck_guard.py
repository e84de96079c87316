"""The guard ends a stuck process, in a process of its own and in real time."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

PREAMBLE = """
import time
from kettlebridge.model.ids import KettleId
from kettlebridge.runtime.stuck_guard import StuckGuard
guard = StuckGuard(limit_s=0.2)
A, B = KettleId("a"), KettleId("b")
"""


def run(body: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.run(
        [sys.executable, "-c", PREAMBLE + body], env=env, capture_output=True, text=True, timeout=20, check=False
    )


@pytest.mark.process
def test_process_whose_ticks_stop_is_ended_with_a_trace_of_where_it_hangs() -> None:
    done = run("guard.finished(A)\ndef hang(): time.sleep(15)\nhang()")
    assert done.returncode == 1
    assert "Timeout" in done.stderr
    assert "in hang" in done.stderr


@pytest.mark.process
def test_process_that_ticks_or_ended_in_order_is_left_alone() -> None:
    done = run(
        "for _ in range(5):\n guard.finished(A)\n time.sleep(0.08)\nguard.left(A)\ntime.sleep(0.4)\nprint('whole')"
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "whole\n", "")


@pytest.mark.process
def test_kettle_that_leaves_does_not_disarm_the_others() -> None:
    done = run("guard.finished(A)\nguard.finished(B)\nguard.left(A)\ntime.sleep(15)")
    assert done.returncode == 1
