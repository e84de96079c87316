"""Every view for everybody: axe-core's rules, nothing wider than a telephone, thumbs that hit, light and dark."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import pytest
from axe_playwright_python.async_playwright import Axe
from playwright.async_api import Page

from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.plan import AskKind
from kettlebridge.web.roles import Role
from tests.browser import CHROMIUM, PHONE
from tests.documents.builders import call
from tests.web.rooms import BATCH, SADDLE, THIMBLE, seen
from tests.web.served import Served, a_browser, a_phone, a_tablet, served
from tests.web.test_access import PHRASES, keys

pytestmark = [
    pytest.mark.process,
    pytest.mark.slow,
    pytest.mark.skipif(not CHROMIUM.exists(), reason=f"there is no {CHROMIUM}; on Debian: apt install chromium"),
]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
SHOWN_SCHEME = "matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light'"
VIOLATIONS = """async (options) => (await axe.run(options)).violations.map(
  (one) => [one.id, one.nodes.slice(0, 3).map((node) => node.html.slice(0, 200))])"""
"""All that axe could say of a page takes longer to hand over than to find."""

HEIGHTS_PX = """(touched) => touched.filter((one) => one.getClientRects().length).map(
  (one) => [one.innerText, one.getBoundingClientRect().height])"""
FINGER_PX = 44.0
PAGE = "/kettles/thimble"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A view: where it is, and how the kettle stands meanwhile."""

    path: str = PAGE
    stands: Mapping[str, object] = field(default_factory=dict)


ALARM = AlarmRecord(cause="rest_hot", state=AlarmState.UNACKNOWLEDGED, safety=False, since_s=60.0)
SEEN_ALARM = replace(ALARM, cause="unanswered", state=AlarmState.ACKNOWLEDGED)
TWO_CALLS = (call(kind="ask", subject="lift", at_kettle=True), replace(call(kind="ask", subject="fill"), id="0.ask.1"))
LATE_CALLS = tuple(replace(one, overdue=True, raised_s=-1700.0) for one in TWO_CALLS)
SILENT_PROBE = replace(ALARM, cause="stale", safety=True)
PAUSED = {"state": BatchState.HELD, "hold_cause": "stale", "alarms": (SILENT_PROBE,), "forecast": None}
LEADING = "main button.thumb, main .big button"
ASKED: dict[str, Shown] = {
    **{one.value: Shown(stands={"calls": (call(kind="ask", subject=one.value, at_kettle=True),)}) for one in AskKind},
    "paused by an alarm": Shown(stands=PAUSED),
}
STANDING_STILL: dict[str, Shown] = {
    "paused by an alarm": ASKED["paused by an alarm"],
    "paused with a call open": Shown(stands={"state": BatchState.HELD, "hold_cause": "Ilka", "calls": TWO_CALLS}),
    "stopped with a call open": Shown(stands={"state": BatchState.ABORTED, "calls": TWO_CALLS}),
}
VIEWS: dict[str, Shown] = {
    "a rest": Shown(),
    "calls with their cautions": Shown(stands={"calls": TWO_CALLS}),
    "alarms": Shown(stands={"alarms": (ALARM, SEEN_ALARM)}),
    "nobody answers": Shown(stands={"alarms": (replace(ALARM, cause="unanswered"),), "calls": LATE_CALLS}),
    "paused": Shown(stands={"state": BatchState.HELD, "hold_cause": "stale"}),
    "all heat stopped": Shown(stands={"state": BatchState.ABORTED}),
    "not begun": Shown(stands={"state": BatchState.IDLE, "step": None}),
    "done": Shown(stands={"state": BatchState.COMPLETE, "step": None}),
    "a silent board": Shown(stands={"linked": False, "recorded": False, "temperature_c": None}),
    "several kettles": Shown(path="/"),
    "what was brewed": Shown(path="/batches"),
    "a report": Shown(path=f"/batches/{BATCH}/report"),
    "no such page": Shown(path="/nowhere"),
    "what is brewed next": Shown(path=f"{PAGE}/next?recipe=Corvane+Pale&litres=5"),
    "what was measured": Shown(path=f"{PAGE}/measured"),
    "a rescue": Shown(path=f"{PAGE}/rescue?trouble=mash-missed&found_c=61&recipe=Corvane+Pale"),
}


async def misfits(page: Page, name: str) -> list[str]:
    """What hangs over the edge, and every button and link lower than a finger."""
    wide = await page.evaluate("document.documentElement.scrollWidth")
    found = [f"{name}: {wide} px wide"] if wide > PHONE["width"] else []
    touched = page.get_by_role("button").or_(page.get_by_role("link"))
    for words, height_px in await touched.evaluate_all(HEIGHTS_PX):
        if height_px < FINGER_PX:
            found.append(f"{name}: {words} is {height_px:.0f} px high")
    return found


async def violations(page: Page, name: str) -> list[str]:
    """What axe finds."""
    await page.evaluate(Axe().axe_script)
    found = await page.evaluate(VIOLATIONS, {"runOnly": RULES, "resultTypes": ["violations"]})
    return [f"{name}: {rule}: {where}" for rule, where in found]


async def unfit(page: Page, name: str) -> list[str]:
    """What is wrong with what is shown, by day and by night."""
    found: list[str] = []
    for scheme in SCHEMES:
        await page.emulate_media(color_scheme=scheme)
        assert await page.evaluate(SHOWN_SCHEME) == scheme
        found += [*await violations(page, f"{name}, {scheme}"), *await misfits(page, f"{name}, {scheme}")]
    return found


async def show(page: Page, house: Served, n: int, view: Shown) -> None:
    """Goes there with everything unfolded that can be, and waits for what comes later."""
    house.snapshots.publish(replace(seen(n), **view.stands), ())  # type: ignore[arg-type]  # fields by name
    await page.goto(house.url + view.path)
    if view.path == PAGE:
        await page.wait_for_selector("#trace svg")
    await page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")


async def test_every_view_is_for_everybody(tmp_path: Path) -> None:
    found: list[str] = []
    async with a_browser() as browser, served(tmp_path, kettles=(THIMBLE, SADDLE)) as house:
        page = await a_phone(browser)
        for n, (name, view) in enumerate(VIEWS.items(), start=101):
            await show(page, house, n, view)
            found += await unfit(page, name)
        await page.context.close()
    assert not found, "\n".join(found)


async def test_the_sign_in_and_what_follows_are_for_everybody(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path, keys=keys()) as house:
        page = await a_phone(browser)
        await page.goto(f"{house.url}/sign-in?answer=signed_out")
        assert not await unfit(page, "sign-in")
        await page.get_by_label("Pass-phrase").fill(PHRASES[Role.ALL])
        await page.get_by_role("button", name="Sign in").click()
        await page.wait_for_selector("#trace svg")
        assert not await unfit(page, "signed in")
        await page.context.close()


async def test_on_a_telephone_the_way_on_is_in_sight_beneath_an_alarm_and_above_what_is_asked(tmp_path: Path) -> None:
    hidden: list[str] = []
    async with a_browser() as browser, served(tmp_path) as house:
        page = await a_phone(browser)
        for n, (name, view) in enumerate(STANDING_STILL.items(), start=101):
            await show(page, house, n, view)
            ends = [await page.locator(f"#onward {one}").bounding_box() for one in ("input[name=code]", "button")]
            stop = await page.locator(".stop").bounding_box()
            assert stop is not None
            hidden += [f"{name}: {box}" for box in ends if box is None or box["y"] + box["height"] > stop["y"]]
        await page.context.close()
    assert not hidden, "\n".join(hidden)


async def test_on_a_tablet_whatever_is_asked_is_answered_without_moving_the_page(tmp_path: Path) -> None:
    hidden: list[str] = []
    async with a_browser() as browser, served(tmp_path) as house:
        page = await a_tablet(browser)
        for n, (name, view) in enumerate(ASKED.items(), start=101):
            await show(page, house, n, view)
            button = await page.locator(LEADING).bounding_box()
            stop = await page.locator(".stop").bounding_box()
            assert button is not None
            assert stop is not None
            if button["y"] + button["height"] > stop["y"]:
                hidden.append(f"{name}: ends at {button['y'] + button['height']:.0f} px of {stop['y']:.0f}")
        await page.context.close()
    assert not hidden, "\n".join(hidden)
