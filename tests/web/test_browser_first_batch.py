"""A kettle served with nothing chosen: its first batch comes from the page alone, and only that is on record."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.async_api import expect

from kettlebridge.app import records_in
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from tests.browser import CHROMIUM
from tests.web.served import PATIENCE_MS, a_browser, a_phone
from tests.web.served_kettles import serving

pytestmark = [
    pytest.mark.process,
    pytest.mark.slow,
    pytest.mark.skipif(not CHROMIUM.exists(), reason=f"there is no {CHROMIUM}; on Debian: apt install chromium"),
]


async def test_a_first_batch_is_chosen_begun_and_filled_on_a_telephone(tmp_path: Path) -> None:
    async with serving(tmp_path, 1, chosen=False) as kettles, a_browser() as browser:
        page = await a_phone(browser)
        await page.goto(f"http://127.0.0.1:{kettles.port}/")
        waits = re.compile(r"^Nothing is running, \d+\.\d\s°C: choose a recipe or a profile\.$")
        await expect(page.locator("h1")).to_have_text(waits, timeout=PATIENCE_MS)
        await expect(page.locator("#facts")).to_contain_text("heater off")
        await expect(page.get_by_role("heading", name="The day")).to_be_hidden()
        await expect(page.locator("svg.trace")).to_be_visible(timeout=PATIENCE_MS)
        assert records_in(kettles.state).batches() == ()

        await page.get_by_role("link", name="Choose what to brew").click()
        await page.locator("#recipe").select_option("Corvane Pale")
        await page.get_by_label("Litres into the fermenter").fill("5")
        await page.get_by_role("button", name="Show the sheet").click()
        await expect(page.locator("h1")).to_have_text(re.compile("^Corvane Pale in kettle0: the sheet$"))
        await page.get_by_role("button", name="Set it up in kettle0").click()

        await page.get_by_role("button", name="Begin").click(timeout=PATIENCE_MS)
        await page.get_by_role("button", name="Yes: it is filled").click(timeout=PATIENCE_MS)
        await expect(page.locator("h1")).to_contain_text("heating", timeout=PATIENCE_MS)
        await page.context.close()
        (batch,) = records_in(kettles.state).batches()
    assert (batch.profile, batch.ended) == ("Corvane Pale", None)
    codes = [event.code for _, event in records_in(kettles.state).events(batch.batch)]
    assert codes.count(EventCode.CALL_ANSWERED) == 1
    states = [event.get("to") for _, event in records_in(kettles.state).events(batch.batch) if event.get("to")]
    assert states[0] == BatchState.RUNNING.value
