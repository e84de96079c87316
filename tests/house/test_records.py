"""A record of many fields that is made in every tick is filled by place, because keywords take it three times as long.

What keeps the places right: what is put there is called as the field is.
"""

from __future__ import annotations

import ast
from typing import Any

import pytest

from kettlebridge.core import gathering, tick
from kettlebridge.core.evidence import Evidence
from kettlebridge.core.situation import Situation
from kettlebridge.core.stage import Scene
from kettlebridge.core.state import State
from tests.house.tree import ROOT

MADE: list[tuple[Any, Any]] = [(tick, State), (tick, Scene), (tick, Situation), (gathering, Evidence)]


def called(node: ast.expr) -> str:
    """The last word of a name: `stage.begun_s` is called begun_s."""
    if isinstance(node, ast.Attribute):
        return node.attr
    assert isinstance(node, ast.Name), f"line {node.lineno}: give it its field's name first"
    return node.id


@pytest.mark.parametrize(("module", "record"), MADE, ids=lambda one: one.__name__)
def test_what_fills_a_record_by_place_is_called_as_its_field_is(module: Any, record: Any) -> None:
    path = ROOT / "service" / (module.__name__.replace(".", "/") + ".py")
    calls = [
        node
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == record.__name__
    ]
    assert [[called(argument) for argument in call.args] for call in calls] == [list(record._fields)]
