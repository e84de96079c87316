"""Scenes that go by real time, all lived at once: their waiting is shared, and each still fails by itself."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Mapping

Scene = Callable[[], Awaitable[None]]


class Lived:
    """How each of the scenes came out."""

    def __init__(self, scenes: Mapping[str, Scene]) -> None:
        self._ended = asyncio.run(_all_of(scenes))

    def see(self, name: str) -> None:
        """Raises what that scene failed with."""
        error = self._ended[name]
        if error is not None:
            raise error


async def _all_of(scenes: Mapping[str, Scene]) -> dict[str, BaseException | None]:
    ended = await asyncio.gather(*(scene() for scene in scenes.values()), return_exceptions=True)
    return dict(zip(scenes, ended, strict=True))
