"""The page of what was measured: choices in words, and a form that needs no script."""

from __future__ import annotations

import asyncio
from dataclasses import replace

from kettlebridge.model.command import CommandKind
from kettlebridge.model.ids import BatchId
from kettlebridge.model.trace import Trace
from kettlebridge.ports import BatchHeader
from kettlebridge.runtime.fan_out import FanOut
from kettlebridge.web.access import Access
from kettlebridge.web.hosts import Hosts
from kettlebridge.web.keys import KeyFile
from kettlebridge.web.site import site
from tests.brewing.sheets import sheet
from tests.brewing.test_measured_day import Day
from tests.web.rooms import PORT, House, KeptCommands, ShortCourse, ShortRecord, house, seen, surroundings


class DayRecord(ShortRecord):
    """Of a day from a sheet."""

    def __init__(self, day: Day) -> None:
        self._day = day

    def header(self, batch: BatchId) -> BatchHeader:
        return replace(super().header(batch), plan=self._day.plan)


class DayCourse(ShortCourse):
    """Its course."""

    def __init__(self, day: Day) -> None:
        self._day = day

    async def of(self, batch: BatchId) -> Trace:
        return self._day.trace()


def weak_day() -> House:
    day = Day(sheet("corvane_pale", "saddle"))
    day.litres(day.planned.litres.pre_boil_l)
    day.gravity(1.036)
    commands, snapshots, stop = KeptCommands(), FanOut(), asyncio.Event()
    around = replace(surroundings(commands, snapshots), records=DayRecord(day), traces=DayCourse(day))
    snapshots.publish(seen(), ())
    return House(site(around, Hosts(PORT), Access(KeyFile()), stop), commands, snapshots, stop)


async def test_choices_stand_in_words_and_a_longer_boil_is_one_press_away() -> None:
    the_house = weak_day()
    text = (await the_house.get("/kettles/thimble/measured")).text
    assert "What may be done: one of these" in text
    assert "min longer" in text
    assert "If nothing is done:" in text
    form = text.split('<form method="post" action="/kettles/thimble/tell">')[1].split("</form>")[0]
    given = {
        piece.split('"')[0]: piece.split('value="')[1].split('"')[0] for piece in form.split('type="hidden" name="')[1:]
    }
    await the_house.post("/kettles/thimble/tell", given)
    ((_, command),) = the_house.commands.taken
    assert command.kind is CommandKind.EXTEND
    assert command.step_index is not None
    assert (command.minutes or 0.0) >= 1.0


async def test_a_profile_without_an_aim_is_told_so_and_the_kettles_page_leads_there() -> None:
    the_house = house()
    assert "does not say what it is to come to" in (await the_house.get("/kettles/thimble/measured")).text
    assert 'href="/kettles/thimble/measured"' in (await the_house.get("/kettles/thimble")).text
