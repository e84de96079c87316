"""Changes the rules' code by one token at a time, as cosmic-ray does: a test must fail each time.

`python -m tests.campaign.mutants` needs cosmic-ray, which no lock file holds, as nothing else asks for it. It goes into
an environment of its own:

    make .venv-mutants/test.stamp VENV=.venv-mutants
    .venv-mutants/bin/python -m pip install cosmic-ray
    .venv-mutants/bin/python -m tests.campaign.mutants --sample 100 --seed 1 interlocks alarms

cosmic-ray says which changes there are; its own runner would begin a process for each. Here each is served to a fork of
one process that has everything but the project imported, and none is written. docs/mutants.md has the results.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import gc
import importlib
import importlib.machinery
import importlib.util
import json
import os
import random
import resource
import signal
import sys
import time
import warnings
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache
from importlib.abc import MetaPathFinder
from pathlib import Path
from types import CodeType, ModuleType

import hypothesis
import pytest

ROOT = Path(__file__).parents[2]
OURS = ("kettlebridge", "kettlesim", "tests", "conftest", "__main__")
MISSING = "cosmic-ray is missing here: python -m pip install cosmic-ray (in an environment of its own)\n"
OPTIONS = ("-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:schemathesis")
IMPORTED_ALREADY = ("-W", "ignore::pytest.PytestAssertRewriteWarning")
MOST_BYTES = 3 << 30
"""Of memory, for a change that collects without end."""
LONGER = 6.0
PATIENCE_S = 20.0
"""A change may take so many times as long as none, and so much more: other work may share the machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A module, the tests that know it best, and those that are asked where these saw nothing."""

    path: str
    tests: tuple[str, ...]
    then: tuple[str, ...] = ()

    @property
    def module(self) -> str:
        """As it is imported."""
        return ".".join(Path(self.path).with_suffix("").parts[1:])


class Fate(Enum):
    """What came of a change; the three in the middle count as noticed."""

    SURVIVED = "survived"
    FAILED = "a test failed"
    NOT_LOADED = "the tests could not be begun"
    TOO_LONG = "it took too long"


CORE = ("tests/core", "--ignore=tests/core/test_properties.py")
WIRE = ("tests/drivers",)
BOARD = ("tests/simulator_wire", "-m", "not process")


def _core(*names: str) -> tuple[str, ...]:
    return tuple(f"tests/core/test_{name}.py" for name in names)


def _service(room: str, *, tests: tuple[str, ...], then: tuple[str, ...]) -> Room:
    return Room(path=f"service/kettlebridge/{room}.py", tests=tests, then=then)


ROOMS = {
    "interlocks": _service("core/interlocks", tests=_core("interlocks"), then=CORE),
    "alarms": _service("core/alarms", tests=_core("alarms", "promise_35_alarms_latch"), then=CORE),
    "evidence": _service("core/evidence", tests=_core("evidence", "conditions", "interlocks"), then=CORE),
    "gathering": _service("core/gathering", tests=_core("gathering"), then=CORE),
    "moves": _service("core/moves", tests=_core("moves", "streams", "warmth"), then=CORE),
    "streams": _service("core/streams", tests=_core("streams"), then=CORE),
    "warmth": _service("core/warmth", tests=_core("warmth", "heat_watch"), then=CORE),
    "by_board": _service("core/by_board", tests=_core("by_board"), then=CORE),
    "tick": _service(
        "core/tick",
        tests=_core("commands", "batch_states", "outputs", "promise_15_wall_clock", "promise_47_suspended"),
        then=CORE,
    ),
    "conditions": _service("core/conditions", tests=_core("conditions"), then=CORE),
    "probes": _service("core/probes", tests=_core("probes", "promise_09_bad_readings"), then=CORE),
    "heat_watch": _service("core/heat_watch", tests=_core("heat_watch"), then=CORE),
    "outputs": _service("core/outputs", tests=_core("outputs"), then=CORE),
    "codec": _service(
        "drivers/serial_line/codec",
        tests=("tests/drivers/test_protocol_page.py", "tests/drivers/test_codec.py"),
        then=WIRE,
    ),
    "values": _service(
        "drivers/serial_line/values",
        tests=("tests/drivers/test_protocol_page.py", "tests/drivers/test_codec.py"),
        then=WIRE,
    ),
    "frames": _service(
        "drivers/serial_line/frames",
        tests=tuple(f"tests/drivers/test_{name}.py" for name in ("session", "protocol_page", "codec")),
        then=WIRE,
    ),
    "session": _service("drivers/serial_line/session", tests=("tests/drivers/test_session.py",), then=WIRE),
    "board_time": _service("drivers/serial_line/board_time", tests=("tests/drivers/test_board_time.py",), then=WIRE),
    "admission": Room(
        path="simulator/kettlesim/wire_serial/admission.py",
        tests=("tests/simulator_wire/test_admission.py",),
        then=BOARD,
    ),
    "board": Room(
        path="simulator/kettlesim/wire_serial/board.py",
        tests=tuple(f"tests/simulator_wire/test_{name}.py" for name in ("demand", "session", "reports")),
        then=BOARD,
    ),
}
"""The rules, the wire's codec, and what gives, keeps and ends a lease."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One change of one module: what the operator is called, where it is, the line before and after."""

    operator: str
    line: int
    before: str
    after: str
    code: str


class _WhatRuns(ast.NodeTransformer):
    """Takes out what no result depends on, so that code which differs only there is alike."""

    def visit_arg(self, node: ast.arg) -> ast.arg:
        node.annotation = None
        return node

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.FunctionDef:
        self.generic_visit(node)
        node.returns = None
        node.decorator_list = [each for each in node.decorator_list if "lru_cache" not in ast.dump(each)]
        return node

    def visit_AnnAssign(self, node: ast.AnnAssign) -> ast.AnnAssign:
        self.generic_visit(node)
        node.annotation = ast.Constant(value=None)
        return node

    def visit_Call(self, node: ast.Call) -> ast.Call:
        self.generic_visit(node)
        if isinstance(node.func, ast.Name) and node.func.id == "dataclass":
            node.keywords = []
        return node


def _runs_alike(before: str, mutant: Mutant) -> bool:
    return _what_runs(before) == _what_runs(mutant.code)


def _what_runs(code: str) -> str:
    return ast.dump(_WhatRuns().visit(ast.parse(code)))


def _is_identity(before: str, mutant: Mutant) -> bool:
    return mutant.operator in {"ReplaceComparisonOperator_Is_Eq", "ReplaceComparisonOperator_IsNot_NotEq"}


SAME_BY_MAKE: tuple[tuple[str, Callable[[str, Mutant], bool]], ...] = (
    ("annotations, which are never evaluated; a cache; what `@dataclass` forbids, which mypy forbids too", _runs_alike),
    ("`==` for `is`, written here of enums, functions and None alone: equal only to themselves", _is_identity),
)
"""Kinds of changes that no test can notice; they are not counted."""


def mutants(room: Room) -> Iterator[Mutant]:
    """All that cosmic-ray would change there, less what is no Python."""
    plugins, mutating, tree = (importlib.import_module(f"cosmic_ray.{part}") for part in ("plugins", "mutating", "ast"))
    source = (ROOT / room.path).read_text(encoding="utf-8")
    nodes = list(tree.ast_nodes(tree.get_ast(source)))
    for name in plugins.operator_names():
        kind = plugins.get_operator(name)
        if kind.arguments():  # replaces named variables by chance numbers, where it is told which
            continue
        places = [place for node in nodes for place in kind().mutation_positions(node)]
        for occurrence in range(len(places)):
            code = mutating.mutate_code(source, kind(), occurrence)
            with contextlib.suppress(SyntaxError):
                _compiled(code, room.path)
                yield _described(name.rpartition("/")[2], source, code, places[occurrence][0][0])


def _described(operator: str, source: str, code: str, line: int) -> Mutant:
    befores, afters = source.splitlines(), code.splitlines()
    place = next((n for n, pair in enumerate(zip(befores, afters, strict=False)) if pair[0] != pair[1]), line - 1)
    return Mutant(
        operator=operator,
        line=place + 1,
        before=" ".join(befores[place].split()),
        after=" ".join(afters[place].split()),
        code=code,
    )


def _compiled(code: str, path: str) -> CodeType:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SyntaxWarning)  # of `is` beside a number: a test is to notice, not Python
        return compile(code, path, "exec", dont_inherit=True)


class _Served(importlib.machinery.SourceFileLoader):
    """Loads one module from text, past its file and past what Python has compiled of it."""

    def __init__(self, name: str, path: str, code: str) -> None:
        super().__init__(name, path)
        self._code = code

    def get_code(self, fullname: str) -> CodeType:
        return _compiled(self._code, self.path)


class _Serves(MetaPathFinder):
    def __init__(self, room: Room, code: str) -> None:
        self._name = room.module
        self._loader = _Served(room.module, str(ROOT / room.path), code)

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if fullname != self._name:
            return None
        return importlib.util.spec_from_file_location(fullname, self._loader.path, loader=self._loader)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """How a fork ended, what it said, and how long it took."""

    code: int
    said: bytes
    took_s: float


def _forked(work: Callable[[int], int], limit_s: float) -> Ran:
    """Runs `work` with the end of a pipe in a fork that says nothing else. Its exit code; below 0, the signal."""
    begun_s = time.monotonic()
    reads, writes = os.pipe()
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        os.close(reads)
        silence = os.open(os.devnull, os.O_RDWR)
        for stream in range(3):
            os.dup2(silence, stream)
        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.setitimer(signal.ITIMER_REAL, limit_s)
        code = 3
        try:
            code = work(writes)
        finally:
            os._exit(code)
    os.close(writes)
    with open(reads, "rb") as pipe:  # noqa: PTH123 - a descriptor
        said = pipe.read()
    _, status = os.waitpid(child, 0)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)  # what its tests began and left
    return Ran(code=os.waitstatus_to_exitcode(status), said=said, took_s=time.monotonic() - begun_s)


@cache
def unchanged_s(tests: tuple[str, ...]) -> float:
    """How long these tests take on the code as it is; imports here all that they need besides the project.

    Raises RuntimeError where one fails: nothing could be told by it.
    """

    def work(pipe: int) -> int:
        code = int(pytest.main([*OPTIONS, *IMPORTED_ALREADY, *tests]))
        others = sorted(name for name in list(sys.modules) if name.partition(".")[0] not in OURS)
        os.write(pipe, json.dumps(others).encode())
        return code

    ran = _forked(work, 3600.0)
    if ran.code:
        raise RuntimeError(f"{' '.join(tests)} fail on the code as it is")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name in json.loads(ran.said):
            with contextlib.suppress(Exception):
                importlib.import_module(name)
    gc.freeze()
    return ran.took_s


def fate(room: Room, mutant: Mutant, tests: tuple[str, ...], limit_s: float) -> Fate:
    """What these tests say of a change."""

    def work(pipe: int) -> int:
        sys.dont_write_bytecode = True
        sys.meta_path.insert(0, _Serves(room, mutant.code))
        return int(pytest.main([*OPTIONS, *IMPORTED_ALREADY, *tests]))

    code = _forked(work, limit_s).code
    if code == -signal.SIGALRM:
        return Fate.TOO_LONG
    return {0: Fate.SURVIVED, 1: Fate.FAILED}.get(code, Fate.NOT_LOADED)


def tried(name: str, sample: int | None, seed: int, fast: bool) -> None:
    """Writes each survivor of that room as it is found, and at the end a row of the table in docs/mutants.md."""
    room = ROOMS[name]
    source = (ROOT / room.path).read_text(encoding="utf-8")
    every = list(mutants(room))
    counted = [each for each in every if not any(holds(source, each) for _, holds in SAME_BY_MAKE)]
    drawn = random.Random(f"{seed} {name}").sample(counted, min(sample or len(counted), len(counted)))  # noqa: S311
    fates: Counter[Fate] = Counter()
    for mutant in sorted(drawn, key=lambda each: (each.line, each.operator)):
        came = Fate.SURVIVED
        for tests in filter(None, (room.tests, () if fast else room.then)):
            if came is Fate.SURVIVED:
                came = fate(room, mutant, tests, LONGER * unchanged_s(tests) + PATIENCE_S)
        fates[came] += 1
        if came is Fate.SURVIVED:
            _say(f"{name}:{mutant.line} {mutant.operator}\n    {mutant.before}\n    {mutant.after}")
    noticed = fates.total() - fates[Fate.SURVIVED]
    row = (name, len(every), len(every) - len(counted), fates.total(), *(fates[each] for each in list(Fate)[1:]))
    _say(" | ".join(map(str, (*row, fates[Fate.SURVIVED], f"{100.0 * noticed / max(fates.total(), 1):.1f} %"))))


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def main() -> int:
    """0 when it could be asked at all; what survived is for reading."""
    parser = argparse.ArgumentParser(description="Changes the rules' code by one token at a time.")
    parser.add_argument("rooms", nargs="*", metavar="ROOM", help=f"of {', '.join(ROOMS)}; none: all")
    parser.add_argument("--sample", type=int, help="so many of each, drawn by chance; none: all")
    parser.add_argument("--seed", type=int, default=1, help="of the draw")
    parser.add_argument("--fast", action="store_true", help="ask only the tests that know a module best")
    given = parser.parse_args()
    if importlib.util.find_spec("cosmic_ray") is None:
        sys.stderr.write(MISSING)
        return 2
    for place in ("simulator", "service"):
        sys.path.insert(0, str(ROOT / place))
    os.chdir(ROOT)
    hypothesis.settings.register_profile(
        "mutants",
        database=None,
        derandomize=True,
        deadline=None,
        phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate),
    )
    hypothesis.settings.load_profile("mutants")
    _say(f"seed {given.seed}, at most {given.sample or 'all'} of each")
    for name in given.rooms or ROOMS:
        tried(name, given.sample, given.seed, given.fast)
    return 0


if __name__ == "__main__":
    sys.exit(main())
