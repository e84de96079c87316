"""What a page says of the boards: the health of each of several, in its JSON too, and whether one has a button."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from pydantic import TypeAdapter

from kettlebridge.files.local_time import zone_time
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.reading import BoardInput, BoardStanding
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.web.payloads import KettleState
from kettlebridge.web.view import kettle_view
from tests.documents.builders import call, plan, snapshot

BOARDS = (
    BoardStanding(name="bridge", linked=True),
    BoardStanding(name="rail", linked=False, trouble=LinkReason.NO_PORT, detail="/dev/ttyUSB0 is not there"),
)
MIXED: Snapshot = replace(snapshot(), boards=BOARDS)


def test_the_page_shows_each_board_and_says_what_is_wrong_with_one() -> None:
    view = kettle_view(MIXED, plan(), (), zone_time("UTC"))
    facts = dict(view.facts)
    assert (facts["board bridge"], facts["board rail"]) == ("there", "not there")
    assert any("Board rail" in sentence and "/dev/ttyUSB0" in sentence for sentence in view.standing)


def test_a_kettle_with_one_board_has_no_such_line() -> None:
    assert not any(name.startswith("board") for name, _ in kettle_view(snapshot(), plan(), (), zone_time("UTC")).facts)


def test_the_json_has_each_board_with_the_code_of_its_trouble() -> None:
    told = json.loads(TypeAdapter(KettleState).dump_json(KettleState(sentence="", free="", snapshot=MIXED)))
    assert told["snapshot"]["boards"] == [
        {"name": "bridge", "linked": True, "trouble": None, "detail": ""},
        {"name": "rail", "linked": False, "trouble": "no_port", "detail": "/dev/ttyUSB0 is not there"},
    ]


@pytest.mark.parametrize("inputs", [BoardInput.NONE, BoardInput.CONFIRM])
def test_the_button_on_the_board_is_spoken_of_only_where_there_is_one(inputs: BoardInput) -> None:
    day = replace(plan(), kettle=replace(plan().kettle, inputs=inputs))
    asked = replace(snapshot(), calls=(call(kind="ask", subject="lift", at_kettle=True),))
    (card,) = kettle_view(asked, day, (), zone_time("UTC")).calls
    assert card.at_kettle
    assert card.button is bool(inputs)
