"""Decisions and physics reach for nothing outside: no clock, file, network or random number."""

from __future__ import annotations

from importlib.util import find_spec

import grimp
import pytest

COMMON = frozenset({"__future__", "collections", "dataclasses", "enum", "functools", "math", "typing"})
PURE = {
    "kettlebridge.model": frozenset[str](),
    "kettlebridge.brewing": frozenset[str](),
    "kettlebridge.core": frozenset[str](),
    "kettlebridge.documents": frozenset({"markupsafe"}),
    "kettlesim.plant": frozenset[str](),
}
"""Each room that is pure, once it is there, and what it may import beyond the common modules."""
EXCEPTIONS = {"kettlebridge.core.regulator": frozenset({"simple_pid"})}


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph("kettlebridge", "kettlesim", include_external_packages=True, cache_dir=None)


def outside(graph: grimp.ImportGraph, module: str) -> set[str]:
    """The modules of other projects, or of Python, that `module` imports itself."""
    return {name for name in graph.find_modules_directly_imported_by(module) if graph.is_module_squashed(name)}


@pytest.mark.parametrize("room", [room for room in PURE if find_spec(room)])
def test_pure_room_imports_nothing_that_touches_the_world(room: str, graph: grimp.ImportGraph) -> None:
    inside = {room} | graph.find_descendants(room)
    inside |= {
        name for name in graph.find_upstream_modules(room, as_package=True) if not graph.is_module_squashed(name)
    }
    found = {
        module: outside(graph, module) - COMMON - PURE[room] - EXCEPTIONS.get(module, frozenset()) for module in inside
    }
    assert {module: sorted(names) for module, names in found.items() if names} == {}


def test_imports_of_python_itself_are_seen(graph: grimp.ImportGraph) -> None:
    assert "dataclasses" in outside(graph, "kettlebridge.model.reading")
