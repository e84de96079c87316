"""Each key has its line, whatever way TOML offers to write it."""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kettlebridge.files.key_lines import KeyLines, KeyPath

TEXT = '''\
# comment [not.a.table]
top = 1

[kettle]   # comment
name = "a # no comment = here"
"quoted key" = 'c:\\path'
other."dotted\\u0041".key = 2
list = [
  1,
  # between
  [2, 3],
  { inner = 4 },
]
long = """
[looks.like] = a table
say \\""" = no
"""
after = 5
literal = \'\'\'
x = 1\'\'\'
[[step]]
do = "x"
[[step.addition]]
grams = 1
[[step.addition]]
grams = 2
[step.addition.more]
deep = 1
[[step]]
inline = { a = 1, b = { c = 2 } }
[[step.addition]]
grams = 3
'''


def test_every_way_of_writing_a_key_has_its_line() -> None:
    tomllib.loads(TEXT)
    lines = KeyLines(TEXT)
    expected: dict[KeyPath, int] = {
        ("top",): 2,
        ("kettle",): 4,
        ("kettle", "name"): 5,
        ("kettle", "quoted key"): 6,
        ("kettle", "other"): 7,
        ("kettle", "other", "dottedA", "key"): 7,
        ("kettle", "list", 0): 9,
        ("kettle", "list", 1, 1): 11,
        ("kettle", "list", 2, "inner"): 12,
        ("kettle", "long"): 14,
        ("kettle", "after"): 18,
        ("kettle", "literal"): 19,
        ("step",): 21,
        ("step", 0, "do"): 22,
        ("step", 0, "addition", 0): 23,
        ("step", 0, "addition", 1, "grams"): 26,
        ("step", 0, "addition", 1, "more", "deep"): 28,
        ("step", 1): 29,
        ("step", 1, "inline", "b", "c"): 30,
        ("step", 1, "addition", 0, "grams"): 32,
    }
    assert {path: lines.of(path) for path in expected} == expected


def test_missing_key_has_the_line_of_its_table() -> None:
    assert KeyLines(TEXT).of(("step", 1, "addition", 0, "name")) == 31
    assert KeyLines(TEXT).of(("elsewhere",)) is None


def _leaves(data: object, path: KeyPath = ()) -> dict[KeyPath, object]:
    if isinstance(data, dict):
        inner = data.items()
    elif isinstance(data, list):
        inner = dict(enumerate(data)).items()
    else:
        return {path: data}
    return {key: value for name, part in inner for key, value in _leaves(part, (*path, name)).items()}


NAMES = st.text(alphabet="ab-1", min_size=1, max_size=3)
SCALARS = st.sampled_from(["1", "true", '"x"', "'y = ]'", '"""\n# [a]\n"""', "1979-05-27 07:32:00", "1.5e3"])
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda parts: f"[ # c\n{', '.join(parts)}\n]"),
        st.dictionaries(NAMES, inner, max_size=3).map(
            lambda parts: "{" + ", ".join(f"{name} = {value}" for name, value in parts.items()) + "}"
        ),
    ),
    max_leaves=8,
)
LINES = st.one_of(
    st.tuples(st.lists(NAMES, min_size=1, max_size=3).map(".".join), VALUES).map(lambda pair: f"{pair[0]} = {pair[1]}"),
    st.lists(NAMES, min_size=1, max_size=2).map(lambda parts: f"[{'.'.join(parts)}]"),
    st.lists(NAMES, min_size=1, max_size=2).map(lambda parts: f"[[ {' . '.join(parts)} ]]"),
    st.just("# [comment]"),
)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)  # a busy machine draws slowly
@given(st.lists(LINES, max_size=8))
def test_every_leaf_that_tomllib_finds_is_found_on_the_line_where_it_begins(written: list[str]) -> None:
    text = "\n".join(written)
    try:
        data: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = KeyLines(text)
    for path in _leaves(data):
        line, key = lines._lines[path], path[-1]
        if isinstance(key, str):
            assert key in text.split("\n")[line - 1]
