"""A day brewed through the page alone, in a real browser on a telephone's screen."""

from __future__ import annotations

import re
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, ViewportSize, expect, sync_playwright
from playwright.sync_api import TimeoutError as PlaywrightTimeoutError

from tests.browser import ARGUMENTS, CHROMIUM, PHONE
from tests.cli.kettles import example, short_day, written
from tests.cli.programs import Program, running
from tests.scenarios.whole_day import wire_day

pytestmark = [
    pytest.mark.process,
    pytest.mark.slow,
    pytest.mark.skipif(not CHROMIUM.exists(), reason=f"there is no {CHROMIUM}; on Debian: apt install chromium"),
]
SPEED = "60"
PATIENCE_MS = 60_000.0
TOUCH_MS = 1_000.0
DAY_S = 600.0
THUMB_PX = 64.0
TOGETHER_S = 2.0


@contextmanager
def a_day(folder: Path) -> Iterator[tuple[Program, str]]:
    """A demo of the short day, and where its page is."""
    given = ("--kettle", str(example("thimble")), "--profile", str(short_day(folder)), "--state", str(folder))
    with running("kettlebridge", "demo", *given, "--speed", SPEED) as demo:
        address = re.search(r"http://\S+", demo.line_with("The page: "))
        assert address
        yield demo, address[0]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Chromium without a profile of its own, once: each telephone before it is a fresh one."""
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        try:
            yield made
        finally:
            made.close()


@contextmanager
def a_phone(browser: Browser, url: str, *, script: bool = True) -> Iterator[Page]:
    """The page at `url`; whatever the browser complains of fails the test."""
    screen = ViewportSize(width=PHONE["width"], height=PHONE["height"])
    context = browser.new_context(viewport=screen, java_script_enabled=script)
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda told: complaints.append(told.text) if "Content Security" in told.text else None)
    page.goto(url)
    try:
        yield page
    finally:
        context.close()
    assert complaints == []


def sentence(page: Page, words: str) -> None:
    expect(page.locator("h1")).to_contain_text(words, timeout=PATIENCE_MS)


def test_a_mash_and_boil_are_brewed_from_filling_to_cleaning_with_nothing_but_the_page(
    browser: Browser, tmp_path: Path
) -> None:
    """A `wire_day`: each step and addition of a whole one; what is confirmed here, hands do in the simulated kettle."""
    kettle, profile = written(tmp_path, *wire_day())
    given = ("--kettle", str(kettle), "--profile", str(profile), "--state", str(tmp_path))
    with running("kettlebridge", "demo", *given, "--speed", "600") as demo:
        address = re.search(r"http://\S+", demo.line_with("The page: "))
        assert address
        with a_phone(browser, address[0]) as page:
            confirmed = brewed_to_its_end(page)
            page.goto(address[0] + "batches")
            page.get_by_role("link", name="Report").click()
            expect(page.get_by_role("main")).to_contain_text("Additions, before the end of their step")
    assert {"Dough in", "Lift", "Boil"} <= confirmed


def brewed_to_its_end(page: Page) -> set[str]:
    """Answers each call as it comes, with the code where it is asked for. Gives the names of the steps it did so in."""
    seen: set[str] = set()
    until_s = time.monotonic() + DAY_S
    while time.monotonic() < until_s:
        headline = page.locator("h1").inner_text()
        if headline.startswith("Done"):
            return seen
        seen.add(headline.partition(":")[0])
        calls = page.locator(".call form")
        if not calls.count():
            page.wait_for_timeout(100)
            continue
        try:
            code = calls.first.get_by_label("Code posted at the kettle")
            if code.count():
                code.fill("1815", timeout=TOUCH_MS)
            calls.first.get_by_role("button").click(timeout=TOUCH_MS)
        except PlaywrightTimeoutError:
            continue  # it was answered or asked anew meanwhile
        page.wait_for_timeout(300)
    raise AssertionError(f"the day is not over: {page.locator('main').inner_text()[:600]}")


def test_a_short_day_is_brewed_through_the_page(browser: Browser, tmp_path: Path) -> None:
    with a_day(tmp_path) as (_, url), a_phone(browser, url) as page:
        sentence(page, "Fill: your turn")
        page.get_by_label("Litres, as it really was").fill("5,5")
        button = page.get_by_role("button", name="Yes: it is filled")
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= THUMB_PX
        button.click()
        sentence(page, "heating")
        expect(page.locator("#answer")).to_have_text("Taken.")
        expect(page.locator("#facts")).to_contain_text("5.5 L")
        expect(page.locator("svg.trace path.temperature")).to_have_count(1)
        assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
        page.get_by_role("button", name="Yes: it is empty").click()
        sentence(page, "Done")


def test_stop_all_heat_is_in_reach_and_only_the_code_clears_it(browser: Browser, tmp_path: Path) -> None:
    with a_day(tmp_path) as (_, url), a_phone(browser, url) as page:
        sentence(page, "Fill: your turn")
        page.get_by_role("button", name="Stop all heat").click()
        sentence(page, "All heat stopped")
        code = page.get_by_label("Code posted at the kettle")
        code.fill("9999")
        page.get_by_role("button", name="Clear the stop").click()
        expect(page.locator("#answer")).to_contain_text("not the code")
        page.wait_for_timeout(1100)
        code.fill("1815")
        page.get_by_role("button", name="Clear the stop").click()
        sentence(page, "Not started")


def test_without_a_script_the_page_still_stops_all_heat(browser: Browser, tmp_path: Path) -> None:
    with a_day(tmp_path) as (_, url), a_phone(browser, url, script=False) as page:
        page.get_by_role("button", name="Stop all heat").click()
        expect(page.locator("#answer")).to_have_text("Taken.")
        page.reload()
        sentence(page, "All heat stopped")


def test_a_page_whose_service_has_gone_says_since_when_it_is_old(browser: Browser, tmp_path: Path) -> None:
    with a_day(tmp_path) as (demo, url), a_phone(browser, url) as page:
        sentence(page, "Fill: your turn")
        assert demo.ended_by(signal.SIGTERM) == 0
        expect(page.locator("#stale")).to_have_text(
            re.compile(r"^No news since \d\d:\d\d:\d\d: what stands here is old"), timeout=PATIENCE_MS
        )


def test_two_who_confirm_at_once_confirm_once(browser: Browser, tmp_path: Path) -> None:
    """Each in a window of their own, for one behind another may be slow; by the clock, before either hears of it."""
    with a_day(tmp_path) as (demo, url), a_phone(browser, url) as page:
        other = browser.new_context().new_page()
        other.set_default_timeout(PATIENCE_MS)
        other.goto(url)
        buttons = [one.get_by_role("button", name="Yes: it is filled") for one in (page, other)]
        for button in buttons:
            expect(button).to_be_visible()
        at_ms = 1000.0 * (time.time() + TOGETHER_S)
        for button in buttons:
            button.evaluate("(button, atMs) => { setTimeout(() => button.click(), atMs - Date.now()) }", at_ms)
        for one in (page, other):
            sentence(one, "heating")
            expect(one.locator("#answer")).to_have_text(re.compile("^(Taken|Not taken)"))
        other.context.close()
        demo.line_with("5.0 L in the kettle")
        assert demo.seen.count("5.0 L in the kettle") == 1
