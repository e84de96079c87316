"""Notifications on their way out: a listener that never waits, and the loop that sends them one by one.

Drop policy: NOTICES wait at most; an urgent one pushes out the oldest that is not. What could not be sent is told in
the log and not tried again by itself: what still holds is repeated by its rule.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Never

from kettlebridge.model.errors import OperatorError
from kettlebridge.model.event import Event
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.outbound.rules import Notice, Rules

log = logging.getLogger(__name__)

NOTICES = 32
NEEDS_EXTRA = "notifications need the extra: pip install 'kettlebridge[notify]'"


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """One place that notices go to. `name` hides what is secret in its address; `send` blocks, False: it failed."""

    name: str
    send: Callable[[Notice], bool]


def targets(urls: Sequence[str]) -> tuple[Target, ...]:
    """A target for each Apprise address. Raises OperatorError for one that is none, or without the extra."""
    try:
        import apprise  # noqa: PLC0415 - an optional extra
    except ImportError as error:
        raise OperatorError(NEEDS_EXTRA) from error
    return tuple(_target(apprise, number, url) for number, url in enumerate(urls, start=1))


def _target(apprise: Any, number: int, url: str) -> Target:
    service = apprise.Apprise.instantiate(url)
    if service is None:
        raise OperatorError(f"notifications: address {number} is none that Apprise knows")

    def send(notice: Notice) -> bool:
        kind = apprise.NotifyType.FAILURE if notice.urgent else apprise.NotifyType.INFO
        return bool(service.notify(body=notice.text, title=notice.title, notify_type=kind))

    return Target(name=str(service.url(privacy=True)).partition("?")[0], send=send)


class Notifier:
    """Tells all targets what the rules pick. `dropped` counts notices that found the queue full."""

    def __init__(self, rules: Rules, told: Sequence[Target]) -> None:
        self.dropped = 0
        self._rules = rules
        self._targets = tuple(told)
        self._waiting: list[Notice] = []
        self._filled = asyncio.Event()

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Looks at a tick; never waits."""
        for notice in self._rules.look(snapshot):
            if len(self._waiting) >= NOTICES and not self._make_room(notice):
                self.dropped += 1
                continue
            self._waiting.append(notice)
            self._filled.set()

    async def run(self) -> Never:
        """Sends, one notice after the other, to all targets at once."""
        while True:
            while not self._waiting:
                self._filled.clear()
                await self._filled.wait()
            await tell(self._targets, self._waiting.pop(0))

    def _make_room(self, notice: Notice) -> bool:
        """Lets the oldest go that is not urgent, for an urgent one."""
        lesser = next((waiting for waiting in self._waiting if not waiting.urgent), None)
        if not notice.urgent or lesser is None:
            return False
        self._waiting.remove(lesser)
        self.dropped += 1
        return True


async def tell(told: Sequence[Target], notice: Notice) -> tuple[bool, ...]:
    """Whether each target took it."""
    took = await asyncio.gather(*(asyncio.to_thread(_sent, target, notice) for target in told))
    for target, well in zip(told, took, strict=True):
        if not well:
            log.warning('notification "%s" did not get through to %s', notice.title, target.name)
    return tuple(took)


def _sent(target: Target, notice: Notice) -> bool:
    try:
        return target.send(notice)
    except Exception:
        log.exception("notifications: %s", target.name)
        return False
