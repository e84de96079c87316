"""The JSON API: what it answers, whatever it is sent."""

from __future__ import annotations

import asyncio
import json

import pytest

from kettlebridge.model.command import CommandKind
from kettlebridge.web import telling
from tests.web.rooms import BATCH, CODE, house


async def test_a_command_is_handed_on_with_its_key_and_its_answer_is_in_words() -> None:
    the_house = house()
    answer = await the_house.tell({"do": "extend", "minutes": 5, "key": "abcdefgh", "seen_n": 100})
    assert answer.status == 200
    assert answer.json == {"taken": True, "refused": None, "words": "Taken.", "recorded": True, "n": 101}
    await the_house.tell({"do": "extend", "minutes": 5, "key": "abcdefgh"})
    ids = [command.id for _, command in the_house.commands.taken]
    assert ids[0] == ids[1] == "web.extend.abcdefgh"
    await the_house.tell({"do": "extend", "minutes": 5})
    assert the_house.commands.taken[2][1].id not in ids


async def test_a_refusal_is_a_conflict_with_its_reason() -> None:
    the_house = house()
    the_house.commands.refusal = "no_timer"
    answer = await the_house.tell({"do": "extend", "minutes": 5})
    assert answer.status == 409
    assert answer.json["refused"] == "no_timer"
    assert "no time to change" in str(answer.json["words"])


BROKEN = [
    b"",
    b"{",
    b"[]",
    b"null",
    b'"stop-heat"',
    b"\xff\xfe",
    b"[" * 5000,
    b'{"do":"stop-heat","extra":1}',
    b'{"do":7}',
    b'{"do":"extend","minutes":NaN}',
    b'{"do":"extend","minutes":1e999}',
    b'{"do":"extend","seen_n":-1}',
    b'{"do":"extend","key":"a b"}',
    b'{"do":"confirm","call":"' + b"x" * 500 + b'"}',
]


@pytest.mark.parametrize("body", BROKEN)
async def test_what_cannot_be_understood_is_a_clear_answer_and_no_command(body: bytes) -> None:
    the_house = house()
    answer = await the_house.tell(body)
    assert answer.status == 400
    assert str(answer.json["words"]).startswith("Not understood: ")
    assert the_house.commands.taken == []


async def test_other_kinds_of_body_are_refused() -> None:
    answer = await house().tell(b"do=stop-heat", {"content-type": "text/plain"})
    assert answer.status == 415


async def test_a_code_makes_it_one_from_the_kettle() -> None:
    the_house = house()
    assert (await the_house.tell({"do": "carry-on", "code": CODE})).status == 200
    assert the_house.commands.taken[0][1].at_kettle
    assert (await the_house.tell({"do": "carry-on", "code": "0000"})).status == 403
    assert (await the_house.tell({"do": "carry-on", "code": CODE})).status == 429
    assert len(the_house.commands.taken) == 1


async def test_a_kettle_that_does_not_answer_in_time_leaves_it_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(telling, "PATIENCE_S", 0.01)
    the_house = house()
    the_house.commands.stalls = True
    answer = await the_house.tell({"do": "skip"})
    assert answer.status == 504
    assert answer.json["refused"] == "unanswered"


async def test_two_at_once_with_different_keys_are_two_commands() -> None:
    the_house = house()
    await asyncio.gather(*(the_house.tell({"do": "hold", "key": f"key-{number}-of-2"}) for number in range(2)))
    assert [command.kind for _, command in the_house.commands.taken] == [CommandKind.HOLD] * 2


async def test_how_a_kettle_stands() -> None:
    answer = await house().get("/api/kettles/thimble")
    assert str(answer.json["sentence"]).startswith("Sugar rest: resting, 66.4 °C")
    snapshot = answer.json["snapshot"]
    assert isinstance(snapshot, dict)
    assert snapshot["n"] == 100
    assert snapshot["state"] == "Running"
    assert set((await house().get("/api/kettles")).json["kettles"]) == {"thimble"}  # type: ignore[call-overload]
    assert (await house(speaks=False).get("/api/kettles/thimble")).status == 404


async def test_a_batch_as_json_and_as_csv() -> None:
    the_house = house()
    course = (await the_house.get(f"/api/batches/{BATCH}")).json
    assert course["series"] == {
        "at_s": [0.0, 50.0, 100.0],
        "temperature_c": [60.0, None, 66.4],
        "target_c": [66.0, 66.0, 66.0],
        "heater_fraction": [1.0, 0.5, 0.0],
        "gap_s": 60.0,
    }
    figures = await the_house.get(f"/api/batches/{BATCH}/series.csv")
    assert figures.text == "at_s,temperature_c,target_c,heater_fraction\n0,60,66,1\n50,,66,0.5\n100,66.4,66,0\n"
    assert figures.header("content-type").startswith("text/csv")
    missing = await the_house.get("/api/batches/other")
    assert missing.status == 404
    assert "no batch other" in str(missing.json["words"])


async def test_the_document_names_every_route_and_every_shape() -> None:
    document = (await house().get("/api/openapi.json")).json
    paths, components = document["paths"], document["components"]
    assert isinstance(paths, dict)
    assert isinstance(components, dict)
    assert set(paths) == {
        "/api/kettles",
        "/api/kettles/{kettle}",
        "/api/kettles/{kettle}/tell",
        "/api/batches",
        "/api/batches/{batch}",
        "/api/batches/{batch}/series.csv",
    }
    referred = set(json.dumps(document).split("#/components/schemas/")[1:])
    assert {one.split('"')[0] for one in referred} <= set(components["schemas"])
