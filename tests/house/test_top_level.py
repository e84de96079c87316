"""The top level is the first thing a reader sees, so it holds only what they look for there."""

from __future__ import annotations

import ast
import re

import pytest

from tests.house.tree import ROOT, entries, files

TOP_LEVEL = {
    ".ci",
    ".gitignore",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "config",
    "docs",
    "pyproject.toml",
    "service",
    "simulator",
    "tests",
}
OF_ONE_MACHINE = re.compile(
    r"(?<![\w.~-])/(?:home|Users|root|work|mnt)/\w"  # somebody's folders
    r"|[A-Z]:\\Users\\"
    r"|(?:index-url|find-links|trusted-host)[ =]+[\w/][^\s{]*[/.:]\w"  # somebody's package index
    r"|https?://[^\s\"'/]+/(?:[^\s\"']+/)?simple\b",
    re.ASCII,
)


def test_top_level_holds_only_the_agreed_names() -> None:
    assert {path.name for path in entries(ROOT)} == TOP_LEVEL


def test_every_package_says_what_it_is_for() -> None:
    packages = [path for root in ("service", "simulator") for path in files(ROOT / root) if path.name == "__init__.py"]
    assert packages
    silent = [str(path.relative_to(ROOT)) for path in packages if not ast.get_docstring(ast.parse(path.read_text()))]
    assert silent == []


def test_no_file_names_a_folder_or_an_index_of_one_machine() -> None:
    found = [
        f"{path.relative_to(ROOT)}: {match.group()}"
        for path in files(ROOT)
        if b"\0" not in path.read_bytes()
        for match in OF_ONE_MACHINE.finditer(path.read_text(encoding="utf-8"))
    ]
    assert found == []


@pytest.mark.parametrize(
    "trace",
    [
        "see {}home/ann/brew.toml",
        "{}Users/ann/kettle",
        "in {}root/x",
        "--index-url {0}srv{0}mirror",
        "extra-index-url = https:{0}{0}pypi.example",
        "https:{0}{0}mirror.example/pypi/simple{0}rich",
    ],
)
def test_a_trace_of_one_machine_would_be_found(trace: str) -> None:
    assert OF_ONE_MACHINE.search(trace.format("/"))


@pytest.mark.parametrize("text", ["at home/work balance", "https://docs.example.org/home/page", "a simple/pid loop"])
def test_ordinary_words_are_no_trace(text: str) -> None:
    assert not OF_ONE_MACHINE.search(text)
