"""What the page costs: a slow telephone's first view and its updates, the picture of a long day, a crowd's lateness."""

from __future__ import annotations

import asyncio
import re
import statistics
import subprocess
import sys
import tempfile
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from time import process_time
from timeit import repeat
from typing import Any

from playwright.async_api import Browser, ViewportSize

from kettlebridge.documents.trace_svg import trace_svg
from kettlebridge.files.examples import config_folder
from kettlebridge.files.local_time import zone_time
from tests.benchmarks.figure import Figure
from tests.browser import PHONE
from tests.documents.test_trace_svg import a_trace
from tests.web.crowd import Crowd
from tests.web.served import a_browser
from tests.web.served_kettles import serving

THROTTLE = 6
VIEWS = 5
WATCHED_S = 20.0
KETTLES, STREAMS = 10, 200
CROWDED_MIN = 10.0
SETTLING_S = 5.0
"""Before the crowd comes: a start is no part of this."""

DRAWINGS = 50
TWELVE_HOURS = 12 * 360
"""Points of a trace, one every ten seconds."""

TIMED = """
window.updates = [];
const given = Object.getOwnPropertyDescriptor(EventSource.prototype, "onmessage");
Object.defineProperty(EventSource.prototype, "onmessage", {...given, set(handler) {
  given.set.call(this, (event) => {
    const begun = performance.now();
    handler(event);
    document.body.getBoundingClientRect();
    window.updates.push(performance.now() - begun);
  });
}});
"""
"""Times what an update takes, its layout included."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """On a throttled telephone: milliseconds to the first view, kilobytes for all, milliseconds of each update."""

    first_ms: tuple[float, ...]
    loaded_kb: tuple[float, ...]
    updates_ms: tuple[float, ...]


@asynccontextmanager
async def _demo() -> AsyncIterator[str]:
    """A day that plays alone, and where its page is."""
    process = await asyncio.create_subprocess_exec(
        *(sys.executable, "-u", "-m", "kettlebridge", "demo", "--hands-off", "--until-complete", "--speed", "60"),
        *("--kettle", str(config_folder() / "kettles" / "saddle.toml")),
        *("--profile", str(config_folder() / "profiles" / "corvane_wheat.toml")),
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    if process.stdout is None:
        raise AssertionError("its output was asked for")
    try:
        async for line in process.stdout:
            if found := re.search(rb"The page: (http://\S+)", line):
                yield found[1].decode()
                return
        raise ValueError("the demo no longer tells where its page is")
    finally:
        process.kill()
        await process.wait()


async def _view(browser: Browser, url: str, watched_s: float) -> Seen:
    """One visit with nothing kept from another."""
    screen = ViewportSize(width=PHONE["width"], height=PHONE["height"])
    context = await browser.new_context(viewport=screen)
    page = await context.new_page()
    tools = await context.new_cdp_session(page)
    loaded = 0.0

    def finished(event: Mapping[str, Any]) -> None:
        nonlocal loaded
        loaded += float(event["encodedDataLength"])

    tools.on("Network.loadingFinished", finished)
    await tools.send("Network.enable")
    await tools.send("Emulation.setCPUThrottlingRate", {"rate": THROTTLE})
    await page.add_init_script(TIMED)
    await page.goto(url)
    await page.wait_for_selector("#trace svg")
    first_ms = await page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime")
    await asyncio.sleep(watched_s)
    updates_ms = await page.evaluate("window.updates")
    await context.close()
    return Seen(first_ms=(first_ms,), loaded_kb=(loaded / 1000.0,), updates_ms=tuple(updates_ms))


async def _measure() -> Seen:
    async with _demo() as url, a_browser() as browser:
        seen = [await _view(browser, url, WATCHED_S / VIEWS) for _ in range(VIEWS)]
    return Seen(
        first_ms=tuple(ms for one in seen for ms in one.first_ms),
        loaded_kb=tuple(kb for one in seen for kb in one.loaded_kb),
        updates_ms=tuple(ms for one in seen for ms in one.updates_ms),
    )


@cache
def measured() -> Seen:
    """All of it, once."""
    return asyncio.run(_measure())


def first_view() -> Figure:
    """From the address to something to read."""
    ms = statistics.median(measured().first_ms)
    return Figure(text=f"median {ms / 1000.0:.2f} s", how=f"first contentful paint, {THROTTLE} x slower CPU, 390 px")


def first_load() -> Figure:
    """Everything that comes over the wire, trace included."""
    return Figure(text=f"{max(measured().loaded_kb):.0f} kB", how="page, style, script, icon and trace, as sent")


def update() -> Figure:
    """From a message of the stream to a page that is laid out again."""
    ms = sorted(measured().updates_ms)
    worst = ms[int(0.95 * (len(ms) - 1))]
    return Figure(
        text=f"median {statistics.median(ms):.1f} ms, 95 % within {worst:.1f} ms",
        how=f"{len(ms)} updates at 60 x, {THROTTLE} x slower CPU, layout included",
    )


def long_trace() -> Figure:
    """The picture of twelve hours."""
    trace, time = a_trace(TWELVE_HOURS), zone_time("UTC")
    took = repeat(lambda: trace_svg(trace, time), number=1, repeat=DRAWINGS, timer=process_time)
    ms = [1000.0 * took_s for took_s in took]
    return Figure(
        text=f"median {statistics.median(ms):.1f} ms",
        how=f"CPU time of `trace_svg` of {TWELVE_HOURS} points, {DRAWINGS} x",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Crowded:
    """How late each tick came while all looked; the service's memory after a tenth of the time, and at its end."""

    lateness_s: tuple[float, ...]
    early_mb: float
    late_mb: float
    heard: int


async def _crowded(crowded_s: float) -> Crowded:
    with tempfile.TemporaryDirectory() as folder:
        async with serving(Path(folder), KETTLES) as kettles:
            await asyncio.sleep(SETTLING_S)
            crowds = [Crowd(kettles.port, name) for name in kettles.names]
            readers = [asyncio.create_task(crowds[number % KETTLES].reads()) for number in range(STREAMS)]
            await asyncio.sleep(crowded_s / 10.0)
            early_mb = kettles.resident_mb()
            await asyncio.sleep(crowded_s * 0.9)
            late_mb = kettles.resident_mb()
            for reader in readers:
                reader.cancel()
            await asyncio.gather(*readers, return_exceptions=True)
        lateness_s = tuple(kettles.lateness_s(SETTLING_S))
    heard = sum(crowd.heard for crowd in crowds)
    return Crowded(lateness_s=lateness_s, early_mb=early_mb, late_mb=late_mb, heard=heard)


@cache
def crowded(crowded_s: float) -> Crowded:
    """The crowd's visit, once."""
    return asyncio.run(_crowded(crowded_s))


def crowd(crowded_s: float) -> Figure:
    """How late ticks come while everybody looks."""
    seen = crowded(crowded_s)
    late_ms = sorted(1000.0 * late_s for late_s in seen.lateness_s)
    at = int(0.999 * (len(late_ms) - 1))
    return Figure(
        text=f"p99.9 {late_ms[at]:.0f} ms, median {statistics.median(late_ms):.1f} ms, worst {late_ms[-1]:.0f} ms",
        how=f"{len(late_ms):,} ticks of {KETTLES} kettles at the speed of life, {STREAMS} streams on loopback that "
        f"heard {seen.heard:,} times",
    )


def crowd_memory(crowded_s: float) -> Figure:
    """What it takes while everybody looks."""
    seen = crowded(crowded_s)
    return Figure(
        text=f"{seen.late_mb:.0f} MB, {seen.late_mb - seen.early_mb:+.1f} MB since a tenth of the time",
        how=f"resident set of serve before that crowd, {crowded_s / 60.0:g} min",
    )
