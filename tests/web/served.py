"""The page of a house in memory on a real port, and a browser before it; it can go away and come back."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from playwright.async_api import Browser, Page, ViewportSize, async_playwright

from kettlebridge.model.ids import KettleId
from kettlebridge.runtime.fan_out import FanOut
from kettlebridge.web.keys import KeyFile, write_keys
from kettlebridge.web.server import Address, Listener, serve_page
from tests.browser import ARGUMENTS, CHROMIUM, PHONE, TABLET
from tests.web.rooms import THIMBLE, KeptCommands, KeptNext, seen, surroundings

PATIENCE_MS = 15_000.0


class Served:
    """Its page has the same address however often it comes back; `commands` and `snapshots` outlive it."""

    def __init__(self, folder: Path, kettles: tuple[KettleId, ...], keys: KeyFile | None) -> None:
        self.commands, self.snapshots = KeptCommands(), FanOut()
        self._folder = folder
        self._around = surroundings(self.commands, self.snapshots, kettles=kettles, next_batches=KeptNext())
        if keys is not None:
            write_keys(folder, keys)
        self._port = 0
        self._stop = asyncio.Event()
        self._listener: Listener | None = None
        self._task: asyncio.Task[None] | None = None
        for kettle in kettles:
            self.snapshots.publish(seen(kettle=kettle), ())

    @property
    def url(self) -> str:
        """Without a slash at its end."""
        return f"http://127.0.0.1:{self._port}"

    def comes(self) -> None:
        """Listens."""
        self._stop = asyncio.Event()
        self._listener = Listener(Address(port=self._port), self._folder)
        self._port = self._listener.port
        self._task = asyncio.create_task(serve_page(self._listener, self._around, self._stop))

    async def goes(self) -> None:
        """Streams end, the port is closed."""
        self._stop.set()
        if self._task is not None:
            await self._task
        if self._listener is not None:
            self._listener.close()
        self._task = self._listener = None


@asynccontextmanager
async def served(
    folder: Path, *, kettles: tuple[KettleId, ...] = (THIMBLE,), keys: KeyFile | None = None
) -> AsyncIterator[Served]:
    """One at work."""
    made = Served(folder, kettles, keys)
    made.comes()
    try:
        yield made
    finally:
        await made.goes()


@asynccontextmanager
async def a_browser() -> AsyncIterator[Browser]:
    """Chromium without a profile of its own."""
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        try:
            yield browser
        finally:
            await browser.close()


async def a_phone(browser: Browser) -> Page:
    """A fresh telephone."""
    return await a_screen(browser, ViewportSize(width=PHONE["width"], height=PHONE["height"]))


async def a_tablet(browser: Browser) -> Page:
    """A fresh tablet, lying on its long side."""
    return await a_screen(browser, ViewportSize(width=TABLET["width"], height=TABLET["height"]))


async def a_screen(browser: Browser, screen: ViewportSize) -> Page:
    """A fresh one."""
    page = await (await browser.new_context(viewport=screen)).new_page()
    page.set_default_timeout(PATIENCE_MS)
    return page
