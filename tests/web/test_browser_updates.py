"""What news does to a page in use: only what changed is touched, and whoever types or presses is not disturbed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.async_api import Page, expect

from kettlebridge.model.batch_state import BatchState
from tests.browser import CHROMIUM
from tests.documents.builders import call
from tests.web.rooms import SADDLE, THIMBLE, seen
from tests.web.served import PATIENCE_MS, a_browser, a_phone, served

pytestmark = [
    pytest.mark.process,
    pytest.mark.slow,
    pytest.mark.skipif(not CHROMIUM.exists(), reason=f"there is no {CHROMIUM}; on Debian: apt install chromium"),
]
FILL = call(kind="ask", subject="fill", litres=7.0)
SPARGE = replace(call(kind="ask", subject="sparge", litres=3.0), id="5.ask.0")
WATCHED = """
() => {
  window.touched = [];
  new MutationObserver((found) => {
    for (const one of found) {
      const element = one.target.nodeType === Node.TEXT_NODE ? one.target.parentElement : one.target;
      window.touched.push(`${one.type} in ${element.closest("main [id]").id}`);
    }
  }).observe(document.querySelector("main"), {subtree: true, childList: true, characterData: true, attributes: true});
}
"""


async def told(page: Page, words: str) -> None:
    await expect(page.locator("h1")).to_contain_text(words, timeout=PATIENCE_MS)


async def test_another_temperature_changes_one_text_and_nothing_else(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        page = await a_phone(browser)
        await page.goto(house.url)
        await page.wait_for_selector("#trace svg")
        house.snapshots.publish(seen(101, temperature_c=67.0), ())
        await told(page, "67.0 °C")
        await page.evaluate(WATCHED)
        house.snapshots.publish(seen(102, temperature_c=68.0), ())
        await told(page, "68.0 °C")
        assert await page.evaluate("window.touched") == ["characterData in now"]
        await page.context.close()


async def test_what_is_typed_stays_with_its_own_call_while_others_come_and_go(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        house.snapshots.publish(seen(101, calls=(SPARGE,)), ())
        page = await a_phone(browser)
        await page.goto(house.url)
        field = page.locator(f'[id="litres-{SPARGE.id}"]')
        await field.fill("2.6")
        house.snapshots.publish(seen(102, calls=(FILL, SPARGE), temperature_c=67.0), ())
        await told(page, "67.0 °C")
        await expect(page.locator(f'[id="litres-{FILL.id}"]')).to_have_value("7.0")
        await expect(field).to_have_value("2.6")
        await expect(field).to_be_focused()
        house.snapshots.publish(seen(103, calls=(replace(SPARGE, litres=3.4),), temperature_c=68.0), ())
        await told(page, "68.0 °C")
        assert await page.locator(".call").count() == 1
        await expect(field).to_have_value("2.6")
        await expect(field).to_be_focused()
        await page.context.close()


async def test_what_is_unfolded_stays_open_and_what_is_no_longer_offered_goes(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        page = await a_phone(browser)
        await page.goto(house.url)
        await page.locator("#more-extend summary").click()
        await page.locator("#extend-minutes").fill("12")
        house.snapshots.publish(seen(101, state=BatchState.HELD), ())
        await expect(page.locator("#more-hold")).to_have_count(0, timeout=PATIENCE_MS)
        await expect(page.locator("#more-extend")).to_have_attribute("open", "")
        await expect(page.locator("#extend-minutes")).to_have_value("12")
        assert await page.locator("#more-retarget[open]").count() == 0
        await page.context.close()


async def test_the_overview_says_what_a_kettle_says_and_keeps_the_finger_on_its_link(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path, kettles=(THIMBLE, SADDLE)) as house:
        page = await a_phone(browser)
        await page.goto(house.url)
        link = page.get_by_role("link", name="saddle")
        await link.focus()
        house.snapshots.publish(seen(101, kettle=SADDLE, temperature_c=71.0), ())
        await expect(page.locator(".kettle .do").last).to_contain_text("71.0 °C", timeout=PATIENCE_MS)
        await expect(link).to_be_focused()
        await page.context.close()
