"""Several things at once, until the first of them ends."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Coroutine
from typing import Any, Never, TypeVar

T = TypeVar("T")


async def first_of(*works: Coroutine[Any, Any, T]) -> T:
    """What the first gives, once the others are cancelled and gone. Raises what any of them raises on the way."""
    tasks = [asyncio.create_task(work) for work in works]
    try:
        done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.wait(tasks)
    ended = [task for task in tasks if not task.cancelled()]
    for task in ended:
        if (error := task.exception()) is not None:
            raise error
    return next(task for task in ended if task in done).result()


async def endless(work: Awaitable[object] | None = None) -> Never:
    """Something that ends only by being cancelled; None: just the waiting."""
    await (asyncio.get_running_loop().create_future() if work is None else work)
    raise AssertionError("what should be endless has ended")
