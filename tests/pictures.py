"""The pictures in docs/pictures: `python -m tests.pictures` makes them anew, from a simulated day and a brew sheet."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal

from playwright.async_api import Browser, ViewportSize, async_playwright

from kettlebridge.app import CORE
from kettlebridge.brewing.brew_sheet import brew_sheet
from kettlebridge.brewing.day import Day
from kettlebridge.cli.virtual_day import VirtualDay
from kettlebridge.core.snapshot import snapshot
from kettlebridge.core.state import State
from kettlebridge.documents.sheet import sheet_page
from kettlebridge.files.examples import example_kettles, example_profiles, example_recipes
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.library import FolderLibrary
from kettlebridge.files.local_time import zone_time
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.event import Event
from kettlebridge.model.ids import BatchId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import Plan
from kettlebridge.model.recipe import Recipe
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import BatchHeader
from kettlebridge.runtime.fan_out import FanOut
from kettlebridge.runtime.traces import TraceBook
from kettlebridge.web.server import Address, Listener, serve_page
from kettlebridge.web.surroundings import Surroundings
from tests.browser import ARGUMENTS, CHROMIUM, PHONE, TABLET
from tests.house.tree import ROOT
from tests.web.rooms import KeptCommands, ShortRecord

PICTURES = ROOT / "docs" / "pictures"
BATCH = BatchId("saddle-20270115T080000")
KETTLE, PROFILE, RECIPE = "saddle", "corvane_wheat", "corvane_pale"
READY_MIN = 7.5 * 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A picture: its file, the moment it shows, the screen, and what is at its top."""

    name: str
    moment: str
    screen: ViewportSize
    at: str = "h1"
    scheme: Literal["dark", "light"] = "light"


SHOTS = (
    Shot(name="phone", moment="rest", screen=ViewportSize(width=PHONE["width"], height=PHONE["height"])),
    Shot(name="phone_call", moment="call", screen=ViewportSize(width=PHONE["width"], height=PHONE["height"])),
    Shot(
        name="phone_dark",
        moment="rest",
        screen=ViewportSize(width=PHONE["width"], height=PHONE["height"]),
        scheme="dark",
    ),
    Shot(name="tablet", moment="boil", screen=ViewportSize(width=TABLET["width"], height=TABLET["height"])),
    Shot(
        name="tablet_course",
        moment="rest",
        screen=ViewportSize(width=TABLET["width"], height=TABLET["height"]),
        at="#h-course",
    ),
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


class DayRecord(ShortRecord):
    """Whose plan is the day's."""

    def header(self, batch: BatchId) -> BatchHeader:
        return BatchHeader(
            batch=batch, kettle=plan().kettle.name, plan=plan(), started_utc_s=0.0, program="0", python="3"
        )

    def ticks(self, batch: BatchId) -> Iterator[tuple[int, Inputs]]:
        return iter(())


def moment_of(seen: Snapshot, since_s: float) -> str | None:
    """The name of a moment worth a picture; `since_s`: for how long the stage has gone on."""
    if seen.step is None:
        return None
    if any(call.kind == "ask" and call.subject == "lift" for call in seen.calls):
        return "call"
    late = {("rest", "hold"): "rest", ("boil", "boil"): "boil"}
    return late.get((seen.step.kind.value, seen.step.stage)) if since_s > 1500.0 else None


def day() -> Iterator[tuple[Snapshot, State, tuple[Event, ...]]]:
    """The simulated day, tick by tick."""
    planned = plan()
    for second in VirtualDay(planned, seed=4).seconds():
        yield snapshot(planned, BATCH, second.state), second.state, second.events


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
        library=FolderLibrary(()),
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
    stage, since_s = "", 0.0
    for seen, state, events in day():
        book.publish(seen, events)
        here = "" if seen.step is None else f"{seen.step.index} {seen.step.stage}"
        if here != stage:
            stage, since_s = here, seen.now_s
        moment = moment_of(seen, seen.now_s - since_s)
        if moment in wanted:
            wanted.discard(moment)
            snapshots.publish(replace(seen, forecast=CORE.forecast(plan(), state)), events)
            for shot in (one for one in SHOTS if one.moment == moment):
                await _take(browser, url, shot, folder)
        if not wanted:
            return
    raise AssertionError(f"the day has no moment for {', '.join(sorted(wanted))}")


async def _take(browser: Browser, url: str, shot: Shot, folder: Path) -> None:
    context = await browser.new_context(viewport=shot.screen, color_scheme=shot.scheme)
    page = await context.new_page()
    await page.goto(url)
    await page.wait_for_selector("svg.trace")
    if shot.at != "h1":
        await page.locator(shot.at).evaluate("one => one.scrollIntoView()")
    await page.screenshot(path=folder / f"{shot.name}.png")
    await context.close()


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    asyncio.run(draw())
