"""The end of a practice day: each mishap with when it came, what noticed it and how soon, and how it ended."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.console import Console
from rich.table import Table
from rich.text import Text

from kettlebridge.documents.amounts import duration
from kettlebridge.documents.troubles import ALARM_WORDS
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.trace import Happening, Trace
from kettlebridge.model.units import S_PER_MIN
from kettlebridge.ports import LocalTime
from kettlebridge.simulated.mishaps import Befell
from kettlebridge.simulated.practice_faults import Happened

UNNOTICED = "By nothing."
NONE_CAME = "No mishap came: the day ended before."


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A row of the table; `at_s` is batch time."""

    at_s: float
    happened: str
    noticed: str
    ended: str


def told(befell: Sequence[Befell], happened: Sequence[Happened], trace: Trace) -> tuple[Told, ...]:
    """All of them, as they came."""
    rows = [*(_of_a_brewer(one, trace) for one in befell), *(_of_the_kettle(one, trace) for one in happened)]
    return tuple(sorted(rows, key=lambda row: row.at_s))


def show(console: Console, rows: Sequence[Told], trace: Trace, time: LocalTime) -> None:
    """The table, or that there is none."""
    if not rows:
        console.print(NONE_CAME)
        return
    zero_utc_s = 0.0 if trace.last is None else trace.last.at_utc_s - trace.last.now_s
    table = Table(title="Mishaps of this practice day", title_justify="left", show_lines=True)
    for heading in ("when", "what happened", "noticed", "how it ended"):
        table.add_column(heading)
    for row in rows:
        table.add_row(
            *(Text(words) for words in (time.hh_mm(zero_utc_s + row.at_s), row.happened, row.noticed, row.ended))
        )
    console.print(table)


def _of_the_kettle(one: Happened, trace: Trace) -> Told:
    noticed = [_noticed(rule, at_s - one.at_s) for rule, at_s in one.found]
    return Told(
        at_s=one.at_s,
        happened=one.mishap.happened,
        noticed=" ".join(noticed) or UNNOTICED,
        ended=_mended(one, trace),
    )


def _noticed(rule: str, after_s: float) -> str:
    return f"After {after_s:.0f} s ({rule}): {ALARM_WORDS[rule].happened}"


def _mended(one: Happened, trace: Trace) -> str:
    if one.mended_s is None:
        return "Nobody put it right before the day ended."
    right = f"Put right after {duration(one.mended_s - one.at_s)}: {one.mishap.mended}"
    states = [each for each in trace.of(EventCode.BATCH_STATE) if each.at_s >= one.at_s]
    held = next((each for each in states if each.event.get("cause") in {rule for rule, _ in one.found}), None)
    if held is None:
        return f"{right} The day was not paused by it."
    again = next((each for each in states if each.at_s > held.at_s and _runs(each)), None)
    if again is None:
        return f"{right} The day was not carried on."
    return f"{right} Carried on after {duration(again.at_s - one.at_s)}."


def _runs(happening: Happening) -> bool:
    return happening.event.get("to") == BatchState.RUNNING.value


def _of_a_brewer(one: Befell, trace: Trace) -> Told:
    after = [happening for happening in trace.happenings if happening.at_s >= one.at_s]
    over = next((each for each in after if _ends(one, each)), None)
    meanwhile = [each for each in after if over is None or each.at_s <= over.at_s]
    ended = one.mishap.unmended
    if over is not None:
        ended = one.mishap.mended.format(minutes=(over.at_s - one.at_s) / S_PER_MIN)
    return Told(
        at_s=one.at_s,
        happened=one.mishap.happened,
        noticed=" ".join(_reminders(one, meanwhile)) or UNNOTICED,
        ended=ended,
    )


def _reminders(one: Befell, meanwhile: list[Happening]) -> Iterator[str]:
    """What spoke of it."""
    again = sum(1 for each in meanwhile if each.event.code is EventCode.CALL_REPEATED and _is_of(one, each))
    if again:
        yield f"It was called for again {again} time{'' if again == 1 else 's'}."
    for each in meanwhile:
        alarm = each.event.get("alarm")
        if each.event.code is EventCode.ALARM_RAISED and alarm in one.mishap.alarms:
            yield _noticed(str(alarm), each.at_s - one.at_s)


def _ends(one: Befell, happening: Happening) -> bool:
    """Of a call it is the answer to that very call."""
    mishap, event = one.mishap, happening.event
    if event.code is not mishap.until or (mishap.stage is not None and event.get("stage") != mishap.stage):
        return False
    return mishap.until is not EventCode.CALL_ANSWERED or _is_of(one, happening)


def _is_of(one: Befell, happening: Happening) -> bool:
    return happening.event.get("call") == one.call
