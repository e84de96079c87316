"""The day on a terminal: one sentence, what is asked, alarms, what happened, and keys to answer with."""

from __future__ import annotations

import asyncio
import os
import sys
import termios
import tty
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Never

from rich.console import Group, RenderableType
from rich.live import Live
from rich.panel import Panel
from rich.text import Text

from kettlebridge.app import Service
from kettlebridge.documents.ahead import free_until
from kettlebridge.documents.calls import asked
from kettlebridge.documents.refusals import refused
from kettlebridge.documents.sentences import alarm, leading, outputs, place, standing
from kettlebridge.files.local_time import ZoneTime
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import CommandId, KettleId
from kettlebridge.model.plan import Plan
from kettlebridge.model.snapshot import CallView, Snapshot
from kettlebridge.runtime.first_of import first_of

REFRESH_S = 0.2
"""Real time between two pictures."""

LINES_KEPT = 8
LEAVE = "q"


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What a key tells the kettle, and the word for it."""

    kind: CommandKind
    word: str


KEYS: dict[str, Key] = {
    "c": Key(kind=CommandKind.CONFIRM, word="confirm"),
    "p": Key(kind=CommandKind.HOLD, word="pause"),
    "g": Key(kind=CommandKind.CARRY_ON, word="carry on"),
    "x": Key(kind=CommandKind.STOP_HEAT, word="stop all heat"),
    "r": Key(kind=CommandKind.RESET, word="reset after that"),
    "b": Key(kind=CommandKind.START, word="begin again after that"),
    "a": Key(kind=CommandKind.ACKNOWLEDGE, word="alarm seen"),
    "s": Key(kind=CommandKind.SKIP, word="skip the step"),
    "n": Key(kind=CommandKind.ARM, word="arm for the night"),
}
"""Whoever sits at this keyboard stands at the simulated kettle."""


class KeyboardView:
    """Shows the newest snapshot and hands on what is typed."""

    def __init__(self, time: ZoneTime, *, hands_off: bool) -> None:
        self._time = time
        self._hands_off = hands_off
        self._lines: deque[str] = deque(maxlen=LINES_KEPT)
        self._answer = ""
        self._count = 0
        self._page = ""

    def say(self, snapshot: Snapshot, words: str) -> None:
        """Something happened."""
        self._lines.append(f"{self._time.hh_mm(snapshot.at_utc_s)}  {words}")

    async def run(self, plan_of: Callable[[Snapshot], Plan], service: Service, kettle: KettleId) -> None:
        """Until the key that leaves is typed."""
        self._page = "" if service.page_url is None else f"The page: {service.page_url}"
        typed: asyncio.Queue[str] = asyncio.Queue(LINES_KEPT)
        with _keys(typed), Live(auto_refresh=False, screen=True) as screen:
            await first_of(self._show(screen, plan_of, service, kettle), self._obey(typed, service, kettle))

    async def _show(
        self, screen: Live, plan_of: Callable[[Snapshot], Plan], service: Service, kettle: KettleId
    ) -> Never:
        while True:
            snapshot = service.snapshots.latest(kettle)
            if snapshot is not None:
                screen.update(self.picture(snapshot, plan_of(snapshot)), refresh=True)
            await asyncio.sleep(REFRESH_S)

    async def _obey(self, typed: asyncio.Queue[str], service: Service, kettle: KettleId) -> None:
        while (letter := await typed.get()) != LEAVE:
            key = KEYS.get(letter)
            snapshot = service.snapshots.latest(kettle)
            if key is None or snapshot is None:
                continue
            self._count += 1
            command = Command(
                id=CommandId(f"keyboard.{self._count}"),
                kind=key.kind,
                who="keyboard",
                at_kettle=True,
                seen_n=snapshot.n,
                call=snapshot.calls[0].id if key.kind is CommandKind.CONFIRM and snapshot.calls else None,
            )
            verdict = await service.commands.submit(kettle, command)
            if verdict.refused is None:
                self._answer = f"{key.word}: taken"
            else:
                words = refused(verdict.refused)
                self._answer = f"{key.word}: not taken. {words.why} {words.do}"

    def picture(self, snapshot: Snapshot, plan: Plan) -> RenderableType:
        """All that is shown of one snapshot."""
        parts: list[RenderableType] = [Text(leading(snapshot, plan), style="bold")]
        parts += [Text(free_until(snapshot, plan, self._time)), Text()]
        where = [self._time.hh_mm(snapshot.at_utc_s), outputs(snapshot), f"{snapshot.energy_kwh:.2f} kWh so far"]
        if snapshot.step is not None:
            where.insert(1, place(snapshot.step))
        parts.append(Text(" · ".join(where)))
        parts += [Text(sentence) for sentence in standing(snapshot)]
        parts += [_call_panel(call, plan) for call in snapshot.calls]
        parts += [Panel(alarm(record), title="alarm", style="red") for record in snapshot.alarms]
        parts += [Text(), *(Text(line, style="dim") for line in self._lines), Text()]
        if self._answer:
            parts.append(Text(self._answer))
        if self._page:
            parts.append(Text(self._page))
        parts.append(Text(self._keys_line()))
        return Group(*parts)

    def _keys_line(self) -> str:
        keys = " · ".join(f"[{letter}] {key.word}" for letter, key in KEYS.items())
        hands = "The simulated brewer acts; you may too.  " if self._hands_off else ""
        return f"{hands}{keys} · [{LEAVE}] leave"


def _call_panel(call: CallView, plan: Plan) -> Panel:
    words = asked(call, plan)
    text = Text("\n".join(part for part in (words.do, words.text) if part))
    if words.caution:
        text.append(f"\n{words.caution}", style="yellow")
    return Panel(text, title="for you, at the kettle" if words.at_kettle else "for you", title_align="left")


@contextmanager
def _keys(typed: asyncio.Queue[str]) -> Iterator[None]:
    """Letters as they are typed, without Enter; signals stay signals. Letters beyond a full queue are dropped."""
    descriptor = sys.stdin.fileno()
    loop = asyncio.get_running_loop()

    def read() -> None:
        for letter in os.read(descriptor, LINES_KEPT).decode(errors="replace"):
            if not typed.full():
                typed.put_nowait(letter)

    before = termios.tcgetattr(descriptor)
    tty.setcbreak(descriptor)
    loop.add_reader(descriptor, read)
    try:
        yield
    finally:
        loop.remove_reader(descriptor)
        termios.tcsetattr(descriptor, termios.TCSADRAIN, before)
