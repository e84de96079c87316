"""What goes wrong between a telephone and the kettle: nothing is lost, nothing is done twice, and it is said."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.async_api import Page, expect

from kettlebridge.model.command import CommandKind
from kettlebridge.web.roles import Role
from tests.browser import CHROMIUM
from tests.documents.builders import call
from tests.web.rooms import seen
from tests.web.served import PATIENCE_MS, Served, a_browser, a_phone, served
from tests.web.test_access import LINK, PHRASES, keys

pytestmark = [
    pytest.mark.process,
    pytest.mark.slow,
    pytest.mark.skipif(not CHROMIUM.exists(), reason=f"there is no {CHROMIUM}; on Debian: apt install chromium"),
]
FILL = call(kind="ask", subject="fill", litres=7.0)
FILLED = "Yes: it is filled"


async def answer(page: Page, words: str) -> None:
    await expect(page.locator("#answer")).to_contain_text(words, timeout=PATIENCE_MS)


async def sign_in(page: Page, role: Role = Role.ALL) -> None:
    await page.get_by_label("Pass-phrase").fill(PHRASES[role])
    await page.get_by_role("button", name="Sign in").click()
    await page.wait_for_selector("#now h1")


def taken(house: Served) -> list[CommandKind]:
    return [command.kind for _, command in house.commands.taken]


async def test_a_confirmation_given_while_the_service_is_away_arrives_once_when_it_is_back(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        house.snapshots.publish(seen(101, calls=(FILL,)), ())
        page = await a_phone(browser)
        await page.goto(house.url)
        await page.wait_for_selector("#trace svg")
        await house.goes()
        await page.get_by_role("button", name=FILLED).click()
        await answer(page, "Not answered yet, trying again")
        await expect(page.locator("#stale")).to_have_text(re.compile(r"^No news since \d\d:"), timeout=PATIENCE_MS)
        house.comes()
        await answer(page, "Taken.")
        await expect(page.locator("#stale")).to_be_hidden(timeout=PATIENCE_MS)
        house.snapshots.publish(seen(102, temperature_c=68.0), ())
        await expect(page.locator("h1")).to_contain_text("68.0 °C", timeout=PATIENCE_MS)
        assert taken(house) == [CommandKind.CONFIRM]
        await page.context.close()


async def test_an_answer_that_is_lost_on_its_way_is_asked_for_again_under_the_same_key(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        house.snapshots.publish(seen(101, calls=(FILL,)), ())
        page = await a_phone(browser)
        await page.goto(house.url)
        lost = 0

        async def lose(route: object) -> None:
            nonlocal lost
            lost += 1
            if lost == 1:
                await route.fetch()  # type: ignore[attr-defined]  # the kettle hears it, the telephone no answer
                await route.abort()  # type: ignore[attr-defined]
            else:
                await route.continue_()  # type: ignore[attr-defined]

        await page.route("**/tell", lose)
        await page.get_by_role("button", name=FILLED).click()
        await answer(page, "Taken.")
        first, again = (command for _, command in house.commands.taken)
        assert first.id == again.id
        await page.context.close()


async def test_a_session_that_ends_in_the_middle_of_a_confirmation_loses_nothing(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path, keys=keys()) as house:
        house.snapshots.publish(seen(101, calls=(FILL,)), ())
        page = await a_phone(browser)
        await page.goto(house.url)
        await sign_in(page)
        await page.context.clear_cookies()
        await page.get_by_role("button", name=FILLED).click()
        await expect(page.locator(".answer")).to_contain_text("this session is over", timeout=PATIENCE_MS)
        assert taken(house) == []
        await sign_in(page)
        await answer(page, "Your session had ended before this was taken")
        await page.locator("#answer").get_by_role("button", name=FILLED).click()
        await answer(page, "Taken.")
        assert taken(house) == [CommandKind.CONFIRM]
        assert house.commands.taken[0][1].who == "all one"
        await page.context.close()


async def test_the_view_only_link_shows_the_day_and_is_refused_a_command(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path, keys=keys()) as house:
        house.snapshots.publish(seen(101, calls=(FILL,)), ())
        page = await a_phone(browser)
        await page.goto(f"{house.url}/view/{LINK}")
        await page.wait_for_selector("#trace svg")
        await expect(page.locator(".call .do")).to_be_visible()
        assert await page.get_by_role("button", name=FILLED).count() == 0
        assert await page.get_by_role("button", name="Stop all heat").count() == 0
        told = await page.evaluate(
            """async () => (await fetch("/api/kettles/thimble/tell", {method: "POST",
                body: JSON.stringify({do: "confirm", call: "0.ask.0"}),
                headers: {"content-type": "application/json", "x-token": document.body.dataset.token}})).json()"""
        )
        assert told["refused"] == "not_allowed"
        assert taken(house) == []
        await page.context.close()


async def test_a_command_in_view_of_something_old_is_said_to_be_so(tmp_path: Path) -> None:
    async with a_browser() as browser, served(tmp_path) as house:
        house.commands.refusal = "seen_too_long_ago"
        page = await a_phone(browser)
        await page.goto(house.url)
        await page.locator("#more-hold summary").click()
        await page.locator("#more-hold button").click()
        await answer(page, "Not taken:")
        await page.context.close()
