"""A time-out on the Clock port: `asyncio.timeout`, but in the time that kettle and board live in."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from kettlebridge.ports import Clock


class TimeLimit:
    """`until_s` may be put off while the limit runs, never brought forward."""

    def __init__(self, until_s: float) -> None:
        self.until_s = until_s


@asynccontextmanager
async def time_limit(clock: Clock, until_s: float) -> AsyncIterator[TimeLimit]:
    """Ends its block with TimeoutError once `clock` has reached the limit."""
    limit = TimeLimit(until_s)
    async with asyncio.timeout(None) as whole:
        watch = asyncio.create_task(_expire(clock, limit, whole), name=f"time limit {until_s:g}")
        try:
            yield limit
        finally:
            watch.cancel()
            await asyncio.wait({watch})


async def _expire(clock: Clock, limit: TimeLimit, whole: asyncio.Timeout) -> None:
    while clock.now_s() < limit.until_s:
        await clock.sleep_until(limit.until_s)
    whole.reschedule(0)
