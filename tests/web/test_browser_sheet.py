"""A brew sheet where it is read: on a telephone in one column that fits, on paper in two."""

from __future__ import annotations

import pytest

from kettlebridge.documents.sheet import sheet_page
from tests.brewing.sheets import every_pair, sheet
from tests.browser import CHROMIUM
from tests.web.served import a_browser, a_phone

pytestmark = [
    pytest.mark.process,
    pytest.mark.slow,
    pytest.mark.skipif(not CHROMIUM.exists(), reason=f"there is no {CHROMIUM}; on Debian: apt install chromium"),
]
WIDTHS_PX = (360, 390, 700, 844)
OVER_THE_EDGE = """() => [...document.querySelectorAll("section")].flatMap((one) => {
  const column = one.parentElement.clientWidth / (getComputedStyle(one.parentElement).columnCount || 1);
  return one.scrollWidth > Math.ceil(column) ? [`${one.querySelector("h2").textContent}: ${one.scrollWidth}`] : [];
})"""


async def test_a_sheet_fits_every_screen_and_prints_in_two_columns() -> None:
    wide: list[str] = []
    async with a_browser() as browser:
        page = await a_phone(browser)
        for pair in every_pair():
            await page.set_content(sheet_page(sheet(*pair)))
            for width in WIDTHS_PX:
                await page.set_viewport_size({"width": width, "height": 844})
                reaches = await page.evaluate("document.documentElement.scrollWidth")
                wide += [f"{pair}: {reaches} px of {width}"] if reaches > width else []
                wide += [f"{pair} at {width} px: {one}" for one in await page.evaluate(OVER_THE_EDGE)]
        await page.set_viewport_size({"width": 390, "height": 844})
        columns = "getComputedStyle(document.querySelector('main')).columnCount"
        assert await page.evaluate(columns) == "1"
        await page.emulate_media(media="print")
        assert await page.evaluate(columns) == "2"
    assert not wide, "\n".join(wide)
