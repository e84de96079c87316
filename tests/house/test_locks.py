"""Whoever installs gets exactly the packages that were tested, from whichever index they use."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from tests.house.tree import ROOT, pyproject

LOCKS = ("run", "test")
PIN = re.compile(
    r"(?P<name>[a-z0-9-]+)==(?P<version>[\w.]+)(?: ; (?P<marker>[^\\]+?))?(?P<hashes>(?: \\\n {4}--hash=\S+)*)\n"
)


def lock_text(lock: str) -> str:
    return (ROOT / "config" / "locks" / f"{lock}.txt").read_text()


def pins(lock: str) -> set[tuple[str, str, str]]:
    return {(pin["name"], pin["version"], pin["marker"] or "") for pin in PIN.finditer(lock_text(lock))}


def names_in(requirements: list[object]) -> Iterator[str]:
    for requirement in requirements:
        if isinstance(requirement, str):
            name = re.match(r"[\w.-]+", requirement)
            assert name, requirement
            yield re.sub(r"[-_.]+", "-", name.group()).lower()


@pytest.mark.parametrize("lock", LOCKS)
def test_lock_is_nothing_but_hashed_pins(lock: str) -> None:
    assert PIN.sub("", lock_text(lock)) == ""
    bare = [pin["name"] for pin in PIN.finditer(lock_text(lock)) if "--hash=sha256:" not in pin["hashes"]]
    assert bare == []


@pytest.mark.parametrize("lock", LOCKS)
def test_lock_names_no_host(lock: str) -> None:
    assert "//" not in lock_text(lock)
    assert "--index" not in lock_text(lock)


def test_tests_run_on_the_versions_that_brewers_get() -> None:
    assert pins("run") <= pins("test")


@pytest.mark.parametrize(("lock", "group"), [("run", "build"), ("test", "test")])
def test_lock_pins_all_that_the_project_asks_for(lock: str, group: str) -> None:
    project = pyproject()
    asked = {*names_in(project["project"]["dependencies"]), *names_in(project["dependency-groups"][group])}
    assert asked <= {name for name, _, _ in pins(lock)}


def test_make_takes_the_pythons_that_the_package_takes() -> None:
    suitable = re.search(r"^SUITABLE := (.*)$", (ROOT / "Makefile").read_text(), re.MULTILINE)
    assert suitable
    minors = [int(version.removeprefix("3.")) for version in suitable[1].split()]
    assert pyproject()["project"]["requires-python"] == f">=3.{min(minors)},<3.{max(minors) + 1}"
