"""Tasks beside the kettles that begin again when they fail, and end when the command does."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from typing import Never

from kettlebridge.ports import Clock

log = logging.getLogger(__name__)

AGAIN_S = 10.0


def kept(work: Callable[[], Awaitable[Never]], name: str, clock: Clock) -> asyncio.Task[Never]:
    """A task that begins again when it fails."""

    async def again() -> Never:
        while True:
            try:
                await work()
            except Exception:
                log.exception("%s failed; it starts again", name)
            await clock.sleep_until(clock.now_s() + AGAIN_S)

    return asyncio.create_task(again(), name=name)


async def ended(task: asyncio.Task[Never]) -> None:
    """Ends it, and waits until it has."""
    task.cancel()
    await asyncio.wait({task})
