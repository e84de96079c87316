"""How much faster than life a day runs over a real pty, with the real driver and the record."""

from __future__ import annotations

import re
import statistics
import subprocess
import sys
from pathlib import Path

from tests.benchmarks.figure import Figure

RUNS = 3
SAID = re.compile(r"^It took .* real time: ([\d,]+) x\.$", re.MULTILINE)


def speed_up() -> Figure:
    """The factor that the demo itself tells at the end of a day at full speed."""
    command = [
        str(Path(sys.executable).with_name("kettlebridge")),
        *("demo", "--hands-off", "--until-complete", "--speed", "max", "--seed"),
    ]
    factors = []
    for seed in range(1, RUNS + 1):
        done = subprocess.run([*command, str(seed)], capture_output=True, text=True, check=True)
        said = SAID.search(done.stdout)
        if said is None:
            raise ValueError(f"the demo no longer tells its speed: {done.stdout[-300:]}")
        factors.append(float(said.group(1).replace(",", "")))
    return Figure(
        text=f"{statistics.median(factors):.0f} x", how=f"`demo --hands-off --speed max --until-complete`, {RUNS} seeds"
    )
