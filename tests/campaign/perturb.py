"""Halves and doubles every number of the rules, one at a time: a test of the core must fail each time.

`python -m tests.campaign.perturb` works on a copy of the service and says which numbers no test noticed.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
ROOMS = (
    "core/interlocks",
    "core/heat_watch",
    "core/by_board",
    "core/moves",
    "core/streams",
    "core/warmth",
    "core/evidence",
    "core/conditions",
    "model/plan",
)
NUMBER = re.compile(r"^([A-Z][A-Z0-9_]+) = ([\d._e*+ /()]+)$")
FOR_S = re.compile(r"for_s=([\d.]+)")
CODE = re.compile(r'code="(\w+)"')
TIMES = (0.5, 2.0)
NOT_RULES = frozenset({"NEVER_HEARD_S", "SAME_C", "BOOTS_KEPT", "TOKEN_WRAPS", "USUAL_SPARGE_C", "MASH_MAX_C"})
"""Stand for "never", "the same", "usual", for what a counter holds, and for what a file alone is held to."""
SLOW = "--ignore=tests/core/test_properties.py"
"""What holds for any input holds for other numbers too."""
KNOW_BEST = ("heat_watch", "interlocks", "conditions", "moves", "streams", "warmth", "by_board", "evidence")
TESTS = (tuple(f"tests/core/test_{name}.py" for name in KNOW_BEST), (SLOW, "tests/core"))
"""All are asked only where those that know the rules best noticed nothing."""
OPTIONS = ("-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:schemathesis")


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One number in one line of one file."""

    room: str
    name: str
    line: int
    text: str
    times: float


def changes() -> Iterator[Change]:
    """Every number of the rules, halved and doubled."""
    for room in ROOMS:
        code = ""
        for line, text in enumerate(_source(ROOT, room).read_text(encoding="utf-8").splitlines()):
            named, held, row = NUMBER.match(text), FOR_S.search(text), CODE.search(text)
            code = row[1] if row else code
            for times in TIMES:
                if named and named[1] not in NOT_RULES:
                    whole = "." not in named[2]
                    value = f"round({times} * ({named[2]}))" if whole else f"{times} * ({named[2]})"
                    yield Change(room=room, name=named[1], line=line, text=f"{named[1]} = {value}", times=times)
                if held:
                    changed = text.replace(held[0], f"for_s={times * float(held[1])}")
                    yield Change(room=room, name=f"for_s of {code}", line=line, text=changed, times=times)


def noticed(change: Change, copy: Path) -> bool:
    """Whether a test fails with that one number changed."""
    path = _source(copy, change.room)
    kept = path.read_text(encoding="utf-8")
    lines = kept.splitlines()
    lines[change.line] = change.text
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    try:
        return any(_fails(copy, tests) for tests in TESTS)
    finally:
        path.write_text(kept, encoding="utf-8")


def _fails(copy: Path, tests: tuple[str, ...]) -> bool:
    place = os.pathsep.join((str(copy), str(ROOT / "simulator")))
    environment = {**os.environ, "PYTHONPATH": place, "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-m", "pytest", *OPTIONS, *tests]
    return subprocess.run(command, cwd=ROOT, check=False, env=environment, stdout=subprocess.DEVNULL).returncode == 1


def _source(folder: Path, room: str) -> Path:
    service = folder / "service" if (folder / "service").is_dir() else folder
    return service / "kettlebridge" / f"{room}.py"


def main() -> int:
    """0 when every change was noticed."""
    missed = 0
    every = list(changes())
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        shutil.copytree(ROOT / "service" / "kettlebridge", copy / "kettlebridge")
        for change in every:
            if not noticed(change, copy):
                missed += 1
                sys.stdout.write(f"nobody noticed {change.room}.{change.name} times {change.times}\n")
                sys.stdout.flush()
    sys.stdout.write(f"{len(every) - missed} of {len(every)} changes were noticed\n")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
