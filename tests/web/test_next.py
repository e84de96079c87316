"""What is brewed next, chosen on the page: the sheet first, set up by one press, begun by another."""

from __future__ import annotations

import asyncio
import json
import urllib.parse
import urllib.request
from dataclasses import replace
from pathlib import Path

import pytest

from kettlebridge.files.examples import config_folder
from kettlebridge.files.library import FolderLibrary
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.ports import NotNext, NotNextCode
from kettlebridge.web.roles import Role
from tests.documents.builders import snapshot
from tests.web.rooms import THIMBLE, house, seen
from tests.web.served_kettles import serving
from tests.web.test_access import guarded, signed_in

NEXT = "/kettles/thimble/next"
SMALL = {"recipe": "Corvane Pale", "litres": "5"}
COMES_S = 20.0


async def test_the_page_of_a_recipe_is_its_sheet_and_its_steps() -> None:
    the_house = house()
    the_house.snapshots.publish(seen(101, state=BatchState.COMPLETE, step=None), ())
    text = (await the_house.get(f"{NEXT}?{urllib.parse.urlencode(SMALL)}")).text
    assert "<h1>Corvane Pale in thimble: the sheet</h1>" in text
    assert "Set it up in thimble" in text
    assert "<caption>Water" in text
    assert "<li><b>Dough in</b>" in text


@pytest.mark.parametrize("state", [BatchState.RUNNING, BatchState.HELD, BatchState.ABORTED])
async def test_a_busy_kettle_shows_the_sheet_says_so_and_has_no_button(state: BatchState) -> None:
    the_house = house()
    the_house.snapshots.publish(seen(101, state=state), ())
    text = (await the_house.get(f"{NEXT}?{urllib.parse.urlencode(SMALL)}")).text
    assert text.index("<b>thimble is busy:</b>") < text.index("<caption>Water")
    assert "Set it up in" not in text


async def test_it_is_set_up_by_one_press_and_nothing_is_begun_by_it() -> None:
    the_house = house()
    answer = await the_house.post(NEXT, SMALL | {"ready_at": "07:00"})
    assert "Corvane Pale is next in thimble." in answer.text
    ((kettle, profile),) = the_house.next_batches.taken
    assert (kettle, profile.name, profile.ready_at) == (THIMBLE, "Corvane Pale", "07:00")
    assert the_house.commands.taken == []


async def test_a_profile_may_be_taken_as_it_is() -> None:
    the_house = house()
    name = FolderLibrary((), (config_folder() / "profiles",)).profiles()[0]
    assert f"<option>{name}</option>" in (await the_house.get(NEXT)).text
    await the_house.post(NEXT, {"profile": name})
    assert [profile.name for _, profile in the_house.next_batches.taken] == [name]


@pytest.mark.parametrize(
    "fields",
    [
        {"recipe": "None Such"},
        {"profile": "None Such"},
        SMALL | {"litres": "many"},
        SMALL | {"litres": "190"},
        SMALL | {"litres": "nan"},
        SMALL | {"ready_at": "7 o'clock"},
        {},
    ],
)
async def test_what_makes_no_sense_or_does_not_fit_is_said_and_set_up_nowhere(fields: dict[str, str]) -> None:
    the_house = house()
    answer = await the_house.post(NEXT, fields)
    assert answer.status == 200
    assert "Set it up" not in answer.text
    assert the_house.next_batches.taken == []


async def test_a_batch_at_work_keeps_its_place() -> None:
    the_house = house()
    the_house.next_batches.refusal = NotNext(code=NotNextCode.AT_WORK)
    assert "<h1>A batch is at work in it: end that one first.</h1>" in (await the_house.post(NEXT, SMALL)).text


async def test_only_who_may_begin_a_kettle_may_choose_for_it() -> None:
    the_house = guarded()
    token = await signed_in(the_house, Role.WATCHER)
    assert "Set it up" not in (await the_house.get(f"{NEXT}?{urllib.parse.urlencode(SMALL)}")).text
    assert (await the_house.post(NEXT, SMALL | {"token": token})).status == 403
    assert (await the_house.post(NEXT, SMALL)).status == 403
    assert the_house.next_batches.taken == []


@pytest.mark.parametrize(
    ("state", "offered"),
    [(BatchState.COMPLETE, True), (BatchState.STOPPED, True), (BatchState.RUNNING, False), (BatchState.IDLE, True)],
)
async def test_it_is_offered_where_nothing_is_at_work(state: BatchState, offered: bool) -> None:
    the_house = house()
    step = snapshot().step
    assert step is not None
    at = replace(step, stage="") if state is BatchState.IDLE else step
    the_house.snapshots.publish(seen(101, state=state, step=at), ())
    assert (f'href="{NEXT}"' in (await the_house.get("/kettles/thimble")).text) is offered


async def test_a_kettle_with_nothing_chosen_shows_its_temperature_and_offers_a_choice_alone() -> None:
    the_house = house()
    the_house.snapshots.publish(seen(101, state=BatchState.IDLE, step=None, profile="", temperature_c=18.4), ())
    text = (await the_house.get("/kettles/thimble")).text
    assert "<h1>Nothing is running, 18.4 °C: choose a recipe or a profile.</h1>" in text
    assert "heater off" in text
    assert ">Choose what to brew</a>" in text
    assert '<div id="day"></div>' in text
    assert '<div id="further"></div>' in text
    for button in ("Begin", "End this batch for good", "Litres, read off"):
        assert f">{button}<" not in text
    assert "Stop all heat</button>" in text


async def test_after_stop_all_heat_a_kettle_with_nothing_chosen_offers_to_clear_it() -> None:
    the_house = house()
    the_house.snapshots.publish(seen(101, state=BatchState.ABORTED, step=None, profile=""), ())
    text = (await the_house.get("/kettles/thimble")).text
    assert "<h1>All heat stopped" in text
    assert ">Clear the stop</button>" in text
    assert ">Choose what to brew</a>" not in text


@pytest.mark.process
@pytest.mark.slow
async def test_the_next_batch_takes_the_place_of_one_that_was_never_begun_and_of_no_other(tmp_path: Path) -> None:
    """A whole service with a board: chosen on the page, begun, and safe from being replaced from then on."""
    async with serving(tmp_path, 1) as kettles:
        url, name = f"http://127.0.0.1:{kettles.port}", kettles.names[0]

        def told(path: str, data: bytes | None = None, media: str = "application/x-www-form-urlencoded") -> str:
            request = urllib.request.Request(url + path, data, {"content-type": media})  # noqa: S310 - http, see above
            with urllib.request.urlopen(request, timeout=10.0) as answer:  # noqa: S310
                return str(answer.read().decode())

        async def until(profile: str) -> None:
            while True:
                known = json.loads(await asyncio.to_thread(told, "/api/kettles"))["kettles"][name]
                if known and known["snapshot"]["profile"] == profile and known["snapshot"]["temperature_c"]:
                    return
                await asyncio.sleep(0.2)

        form = urllib.parse.urlencode(SMALL).encode()
        answer = await asyncio.to_thread(told, f"/kettles/{name}/next", form)
        assert f"Corvane Pale is next in {name}." in answer
        await asyncio.wait_for(until("Corvane Pale"), COMES_S)
        start = json.dumps({"do": CommandKind.START.value}).encode()
        taken = json.loads(await asyncio.to_thread(told, f"/api/kettles/{name}/tell", start, "application/json"))
        assert taken["taken"]
        assert "A batch is at work in it" in await asyncio.to_thread(told, f"/kettles/{name}/next", form)
        batches = json.loads(await asyncio.to_thread(told, "/api/batches"))["batches"]
    assert [batch["ended"] for batch in batches] == [None, BatchState.STOPPED.value]
