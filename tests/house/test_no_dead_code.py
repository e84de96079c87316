"""Nothing stands in the service or the simulator for tests alone, or for nobody: every name of a module is used.

A use is a reading of it in another statement of its module, or in another module of these two trees. What is there for
the tests all the same stands in FOR_THE_TESTS, with its reason.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator

from tests.house.tree import ROOT

TREES = (ROOT / "service", ROOT / "simulator")
FETCHED_BY_NAME = frozenset({"DRIVER", "add_arguments", "run"})
"""What a module gives that is found by its name: one of a driver, or of a command."""
FOR_THE_TESTS = {
    "kettlebridge.core.promises.PROMISES": "the registry that the campaign and the generated page of promises read",
    "kettlesim.line_proxy.whole_chunks": "how the proxy cuts a wire without line ends, as `lines` cuts one with them",
    "kettlesim.plant.layout.stored_j": "what a balance of the plant is drawn up with: no joule may be lost",
}


def modules() -> dict[str, ast.Module]:
    """Every module by its dotted name."""
    found: dict[str, ast.Module] = {}
    for tree in TREES:
        for path in sorted(tree.rglob("*.py")):
            dotted = ".".join(path.relative_to(tree).with_suffix("").parts).removesuffix(".__init__")
            found[dotted] = ast.parse(path.read_text(encoding="utf-8"))
    return found


def given(statement: ast.stmt) -> Iterator[str]:
    """The names that a statement at the top of a module makes; `_` and the names of the language are no names."""
    match statement:
        case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name) | ast.ClassDef(name=name):
            names = [name]
        case ast.Assign(targets=targets):
            names = [each.id for target in targets for each in ast.walk(target) if isinstance(each, ast.Name)]
        case ast.AnnAssign(target=ast.Name(id=name)):
            names = [name]
        case _:
            names = []
    return (name for name in names if name != "_" and not name.startswith("__"))


def imported(tree: ast.Module) -> dict[str, str]:
    """By what it is called here, what each import brings in."""
    found: dict[str, str] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            found |= {each.asname or each.name: f"{node.module}.{each.name}" for each in node.names}
    return found


def used(module: str, statement: ast.stmt, brought: dict[str, str]) -> Iterator[str]:
    """The dotted names that a statement reads, itself left out."""
    own = set(given(statement))
    for node in ast.walk(statement):
        match node:
            case ast.Name(id=name, ctx=ast.Load()) if name not in own:
                yield brought.get(name, f"{module}.{name}")
            case ast.Attribute(value=ast.Name(id=name), attr=attribute) if name in brought:
                yield f"{brought[name]}.{attribute}"


def origin(name: str, brought: dict[str, dict[str, str]]) -> str:
    """Where a name is made that a package hands on."""
    module, _, last = name.rpartition(".")
    return origin(brought[module][last], brought) if last in brought.get(module, {}) else name


def unused(trees: dict[str, ast.Module]) -> set[str]:
    """Names that nothing in `trees` reads."""
    brought = {module: imported(tree) for module, tree in trees.items()}
    made: set[str] = set()
    read: set[str] = set()
    for module, tree in trees.items():
        for statement in tree.body:
            made |= {f"{module}.{name}" for name in given(statement) if name not in FETCHED_BY_NAME}
            read |= {origin(name, brought) for name in used(module, statement, brought[module])}
    return made - read


def test_every_name_is_used_by_more_than_its_tests() -> None:
    assert unused(modules()) == set(FOR_THE_TESTS)


def test_a_name_that_only_calls_itself_is_found() -> None:
    source = "import b\n\nLIMIT = 3\n\ndef again(n: int) -> int:\n    return again(n - 1) if n > LIMIT else 0\n"
    other = "from a import again as once\n\nprint(once(4))\n"
    assert unused({"a": ast.parse(source)}) == {"a.again"}
    assert unused({"a": ast.parse(source), "b": ast.parse(other)}) == set()


def test_a_name_that_a_package_hands_on_is_used_where_the_package_is_asked_for_it() -> None:
    package = "from a.inner import once\n\n__all__ = ['once']\n"
    trees = {"a.inner": ast.parse("def once() -> None: ...\n"), "a": ast.parse(package)}
    assert unused(trees) == {"a.inner.once"}
    assert unused(trees | {"b": ast.parse("from a import once\n\nonce()\n")}) == set()
