"""The page for whoever hears it, has keys and no finger, or reads a card that is longer than the telephone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.async_api import Locator, Page, ViewportSize, expect

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from tests.browser import CHROMIUM
from tests.documents.builders import call
from tests.web.rooms import CODE, seen
from tests.web.served import PATIENCE_MS, Served, a_browser, a_phone, a_screen, served
from tests.web.test_browser_views import ALARM

pytestmark = [
    pytest.mark.process,
    pytest.mark.skipif(not CHROMIUM.exists(), reason=f"there is no {CHROMIUM}; on Debian: apt install chromium"),
]
LIFT = call(kind="ask", subject="lift", at_kettle=True, text="It drips, and steam rises under it. " * 14)
"""Longer than a telephone is high: its code and its button are below everything else."""
HEARD = """
() => {
  window.heard = [];
  new MutationObserver((found) => {
    for (const one of found) {
      const element = one.target.nodeType === Node.TEXT_NODE ? one.target.parentElement : one.target;
      const live = element.closest("[aria-live], [role=status], [role=alert]");
      if (live) window.heard.push([live.id, element.textContent]);
    }
  }).observe(document.body, {subtree: true, childList: true, characterData: true});
}
"""


async def read_aloud(page: Page) -> list[tuple[str, str]]:
    """What changed in live regions: which, and the words that are in it now."""
    return [(region, words) for region, words in await page.evaluate("window.heard")]


async def in_sight(one: Locator) -> bool:
    """Whether all of it lies between the page's upper edge and the button that stops all heat."""
    box = await one.bounding_box()
    stop = await one.page.locator(".stop").bounding_box()
    assert stop is not None
    return box is not None and box["y"] >= 0.0 and box["y"] + box["height"] <= stop["y"]


def drawn(house: Served) -> list[bool | None]:
    return [one.on for _, one in house.commands.taken if one.kind is CommandKind.DRAW_OFF]


async def test_another_temperature_is_not_read_aloud_and_another_stage_is(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        page = await a_phone(browser)
        await page.goto(house.url)
        await page.evaluate(HEARD)
        house.snapshots.publish(seen(101, temperature_c=67.0), ())
        await expect(page.locator("h1")).to_contain_text("67.0 °C", timeout=PATIENCE_MS)
        assert await read_aloud(page) == []
        house.snapshots.publish(seen(102, state=BatchState.HELD, hold_cause="Ilka"), ())
        await expect(page.locator("#spoken")).to_contain_text("Paused, heat off", timeout=PATIENCE_MS)
        await page.context.close()


async def test_an_alarm_is_read_aloud_at_once(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        page = await a_phone(browser)
        await page.goto(house.url)
        house.snapshots.publish(seen(101, alarms=(ALARM,)), ())
        alarm = page.locator("[aria-live=assertive] .alarm")
        await expect(alarm).to_have_count(1, timeout=PATIENCE_MS)
        await page.context.close()


async def test_a_wrong_code_below_a_long_card_is_said_in_sight(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        house.snapshots.publish(seen(101, calls=(LIFT,)), ())
        page = await a_phone(browser)
        await page.goto(house.url)
        await page.locator(".call input[name=code]").fill("0000")
        await page.locator(".call button.thumb").click()
        answer = page.locator("#answer")
        await expect(answer).to_contain_text("not the code posted", timeout=PATIENCE_MS)
        assert await in_sight(answer)
        await page.context.close()


async def test_what_comes_after_an_answer_begins_in_sight(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        house.snapshots.publish(seen(101, calls=(LIFT,)), ())
        page = await a_phone(browser)
        await page.goto(house.url)
        await page.locator(".call input[name=code]").fill(CODE)
        await page.locator(".call button.thumb").click()
        await expect(page.locator("#answer")).to_have_text("Taken.", timeout=PATIENCE_MS)
        house.snapshots.publish(seen(102, calls=(replace(LIFT, id="6.ask.0", subject="sparge"),)), ())
        await expect(page.locator(".call .do")).to_contain_text("Rinse", timeout=PATIENCE_MS)
        assert await in_sight(page.locator("h1"))
        assert await in_sight(page.locator(".call .do"))
        await page.context.close()


@pytest.mark.parametrize("key", ["Enter", "Space"])
async def test_drawing_off_goes_on_as_long_as_a_key_is_down(tmp_path: Path, key: str) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        page = await a_phone(browser)
        await page.goto(house.url)
        await page.locator("#more-draw-off summary").press("Enter")
        await page.locator("#draw-off-code").fill(CODE)
        await page.locator("button[data-hold]").focus()
        await page.keyboard.down(key)
        await expect(page.locator("#answer")).to_have_text("Taken.", timeout=PATIENCE_MS)
        assert set(drawn(house)) == {True}
        await page.keyboard.up(key)
        for _ in range(int(PATIENCE_MS) // 20):
            if drawn(house)[-1] is False:
                break
            await page.wait_for_timeout(20)
        assert drawn(house)[-1] is False
        await page.context.close()


async def test_at_twice_the_size_nothing_hangs_over_the_edge(tmp_path: Path) -> None:
    """What a telephone of 390 px has left when its owner zooms to 200 %."""
    async with a_browser() as browser, served(tmp_path) as house:
        page = await a_screen(browser, ViewportSize(width=195, height=422))
        await page.goto(house.url)
        await page.wait_for_selector("#trace svg")
        assert await page.evaluate("document.documentElement.scrollWidth") == 195
        await page.context.close()
