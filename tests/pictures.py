"""The pictures in docs/pictures: `python -m tests.pictures` makes them anew, from a simulated day and a brew sheet."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal, NamedTuple

from playwright.async_api import Browser, ViewportSize, async_playwright

from kettlebridge.app import CORE
from kettlebridge.brewing.brew_sheet import brew_sheet
from kettlebridge.brewing.day import Day
from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import State
from kettlebridge.documents.sheet import sheet_page
from kettlebridge.files.examples import config_folder, example_kettles, example_profiles
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.library import FolderLibrary
from kettlebridge.files.local_time import zone_time
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import Event
from kettlebridge.model.ids import BatchId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import NOTHING_CHOSEN, Plan
from kettlebridge.model.recipe import Recipe
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import BatchHeader
from kettlebridge.runtime.fan_out import FanOut
from kettlebridge.runtime.traces import TraceBook
from kettlebridge.simulated.day_faults import FoldRig
from kettlebridge.simulated.virtual_day import STARTED_UTC_S, VirtualDay
from kettlebridge.web.server import Address, Listener, serve_page
from kettlebridge.web.surroundings import Surroundings
from kettlesim.faults.table import AT_THE_KETTLE
from tests.brewing.sheets import example_recipes
from tests.browser import ARGUMENTS, CHROMIUM, PHONE, TABLET
from tests.house.tree import ROOT
from tests.web.rooms import KeptCommands, KeptNext, ShortRecord

PICTURES = ROOT / "docs" / "pictures"
KETTLE, PROFILE, RECIPE = "saddle", "corvane_wheat", "corvane_pale"
READY_MIN = 7.5 * 60.0
EVENING_S, MORNING_S = 12.0 * 3600.0, 23.5 * 3600.0
"""After a day's usual beginning at eight: eight in the evening, and half past seven."""

ON_A_PHONE = ViewportSize(width=PHONE["width"], height=PHONE["height"])
ON_A_TABLET = ViewportSize(width=TABLET["width"], height=TABLET["height"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A picture: its file, the moment it shows, the screen, what is at its top, and the page below the kettle's."""

    name: str
    moment: str
    screen: ViewportSize
    at: str = "h1"
    path: str = ""
    scheme: Literal["dark", "light"] = "light"


SHOTS = (
    Shot(name="phone", moment="rest", screen=ON_A_PHONE),
    Shot(name="phone_call", moment="call", screen=ON_A_PHONE),
    Shot(name="phone_dark", moment="rest", screen=ON_A_PHONE, scheme="dark"),
    Shot(name="tablet", moment="boil", screen=ON_A_TABLET),
    Shot(name="tablet_course", moment="rest", screen=ON_A_TABLET, at="#h-course"),
    Shot(name="phone_idle", moment="nothing chosen", screen=ON_A_PHONE),
    Shot(name="phone_next", moment="nothing chosen", screen=ON_A_PHONE, path="/next"),
    Shot(name="phone_arm", moment="to be armed", screen=ON_A_PHONE),
    Shot(name="phone_list", moment="the list", screen=ON_A_PHONE),
    Shot(name="phone_armed", moment="armed", screen=ON_A_PHONE),
    Shot(name="phone_not_armed", moment="held on", screen=ON_A_PHONE),
    Shot(name="phone_alarm", moment="alarm", screen=ON_A_PHONE),
    Shot(name="tablet_call", moment="call", screen=ON_A_TABLET),
    Shot(name="tablet_alarm", moment="alarm", screen=ON_A_TABLET, scheme="dark"),
    Shot(name="phone_done", moment="done", screen=ON_A_PHONE),
    Shot(name="tablet_dark", moment="boil", screen=ON_A_TABLET, scheme="dark"),
)


SHEET = "brew_sheet"
SHEET_SCREEN = ViewportSize(width=794, height=600)
"""As wide as A4 at 96 dots to the inch; it is taken as long as it is."""
NAMES = (*(shot.name for shot in SHOTS), SHEET)


def plan() -> Plan:
    """The example kettle and one of the example days."""
    (kettle,) = (path for path in example_kettles() if path.stem == KETTLE)
    profile = next(path for path in example_profiles() if path.stem == PROFILE)
    return Plan(kettle=load_kettle(kettle).kettle, profile=load_profile(profile))


class Tick(NamedTuple):
    """One of a life, and the name of the moment that it is, where it is worth a picture."""

    plan: Plan
    seen: Snapshot
    state: State
    events: tuple[Event, ...]
    moment: str | None


Moment = Callable[[VirtualDay, Snapshot], str | None]


def lived(day: VirtualDay, batch: str, moment: Moment, last: str) -> Iterator[Tick]:
    """A day, tick by tick, up to its last moment."""
    for second in day.seconds():
        seen = snapshot(day.plan, BatchId(batch), second.state)
        here = moment(day, seen)
        yield Tick(day.plan, seen, second.state, second.events, here)
        if here == last:
            return


class Evening(VirtualDay):
    """A day that begins in the evening, by a clock that a time service holds."""

    def _inputs(self) -> Inputs:
        inputs = super()._inputs()
        return replace(inputs, at_utc_s=inputs.at_utc_s + EVENING_S, clock_synchronised=True)


def of_the_day(day: VirtualDay, seen: Snapshot) -> str | None:
    """Late in a rest and in the boil, hands wanted, and the end."""
    if seen.state is BatchState.COMPLETE:
        return "done"
    if seen.step is None:
        return None
    if any(call.kind == "ask" and call.subject == "lift" for call in seen.calls):
        return "call"
    late = {("rest", "hold"): "rest", ("boil", "boil"): "boil"}
    stage_s = day.now_s - day.state.stage.begun_s
    return late.get((seen.step.kind.value, seen.step.stage)) if stage_s > 1500.0 else None


def of_the_evening(day: VirtualDay, seen: Snapshot) -> str | None:
    """Before the arming and after it."""
    if seen.arming is None:
        return None
    return {"not_armed": "to be armed", "list": "the list", "armed": "armed"}.get(seen.arming.phase)


def of_a_bad_board(day: VirtualDay, seen: Snapshot) -> str | None:
    """Its output stays on when it should drop it."""
    if seen.arming is None:
        return None
    if seen.arming.phase == "drop":
        FoldRig(day).stick_heater()
    return "held on" if seen.arming.reason is not None and seen.state is BatchState.HELD else None


def of_a_plug(day: VirtualDay, seen: Snapshot) -> str | None:
    """The control probe's comes out in the mash."""
    if seen.step is not None and (seen.step.kind.value, seen.step.stage) == ("rest", "hold") and not day.brewer_away:
        day.brewer_away = True
        next(fault for fault in AT_THE_KETTLE if fault.name == "probe-silent").act(FoldRig(day), 0.0)
    return "alarm" if seen.alarms and seen.state is BatchState.HELD else None


def of_a_waiting_kettle(day: VirtualDay, seen: Snapshot) -> str | None:
    """After half an hour of it."""
    return "nothing chosen" if seen.now_s > 1800.0 else None


def lives() -> Iterator[Iterator[Tick]]:
    """All that is lived for the pictures."""
    day = plan()
    evening = replace(day, ready_at_utc_s=STARTED_UTC_S + MORNING_S, against_arming=())
    waits = replace(day, profile=NOTHING_CHOSEN)
    yield lived(VirtualDay(waits, seed=4), "saddle-20270115T070000", of_a_waiting_kettle, "nothing chosen")
    yield lived(Evening(evening, seed=4), "saddle-20270115T080001", of_the_evening, "armed")
    yield lived(Evening(evening, seed=4), "saddle-20270115T080002", of_a_bad_board, "held on")
    yield lived(VirtualDay(day, seed=4), "saddle-20270115T080003", of_a_plug, "alarm")
    yield lived(VirtualDay(day, seed=4), "saddle-20270115T080000", of_the_day, "done")


class DayRecord(ShortRecord):
    """Whose plan is the day's."""

    def header(self, batch: BatchId) -> BatchHeader:
        return BatchHeader(
            batch=batch, kettle=plan().kettle.name, plan=plan(), started_utc_s=0.0, program="0", python="3"
        )

    def ticks(self, batch: BatchId) -> Iterator[tuple[int, Inputs]]:
        return iter(())


@asynccontextmanager
async def a_browser() -> AsyncIterator[Browser]:
    """Chromium without a profile of its own."""
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        try:
            yield browser
        finally:
            await browser.close()


async def draw(folder: Path = PICTURES) -> None:
    """Lives the day and stops at each moment to take its pictures."""
    snapshots, stop = FanOut(), asyncio.Event()
    book = TraceBook(CORE, DayRecord())
    around = Surroundings(
        kettles=(plan().kettle.name,),
        commands=KeptCommands(),
        snapshots=snapshots,
        records=DayRecord(),
        traces=book,
        time=zone_time("UTC"),
        at_kettle=lambda _kettle, _code: False,
        library=FolderLibrary((config_folder() / "recipes",), (config_folder() / "profiles",)),
        next_batches=KeptNext(),
        hurried=True,
    )
    with TemporaryDirectory() as state:
        listener = Listener(Address(port=0), Path(state))
        serving = asyncio.create_task(serve_page(listener, around, stop))
        try:
            async with a_browser() as browser:
                await _sheet(browser, folder)
                await _moments(browser, listener.url, folder, snapshots, book)
        finally:
            stop.set()
            await serving
            listener.close()


async def _sheet(browser: Browser, folder: Path) -> None:
    """The brew sheet that docs/brewing.md begins with."""
    page = await browser.new_page(viewport=SHEET_SCREEN, color_scheme="light")
    await page.set_content(sheet_page(brew_sheet(*_brewed(), Day(ready_min=READY_MIN))))
    await page.screenshot(path=folder / f"{SHEET}.png", full_page=True)
    await page.close()


def _brewed() -> tuple[Recipe, Kettle]:
    (recipe,) = (path for path in example_recipes() if path.stem == RECIPE)
    (kettle,) = (path for path in example_kettles() if path.stem == KETTLE)
    return load_recipe(recipe), load_kettle(kettle).kettle


async def _moments(browser: Browser, url: str, folder: Path, snapshots: FanOut, book: TraceBook[State]) -> None:
    wanted = {shot.moment for shot in SHOTS}
    for life in lives():
        for tick in life:
            book.publish(tick.seen, tick.events)
            if tick.moment in wanted:
                wanted.discard(tick.moment)
                snapshots.publish(replace(tick.seen, forecast=CORE.forecast(tick.plan, tick.state)), tick.events)
                for shot in (one for one in SHOTS if one.moment == tick.moment):
                    await _take(browser, url, shot, folder)
    if wanted:
        raise AssertionError(f"no life has a moment for {', '.join(sorted(wanted))}")


async def _take(browser: Browser, url: str, shot: Shot, folder: Path) -> None:
    context = await browser.new_context(viewport=shot.screen, color_scheme=shot.scheme)
    page = await context.new_page()
    await page.goto(f"{url.rstrip('/')}/kettles/{KETTLE}{shot.path}")
    if not shot.path:
        await page.wait_for_selector("svg.trace", state="attached")
    if shot.at != "h1":
        await page.locator(shot.at).evaluate("one => one.scrollIntoView()")
    await page.screenshot(path=folder / f"{shot.name}.png")
    await context.close()


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    asyncio.run(draw())
