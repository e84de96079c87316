"""Which alarms and calls become notifications, and when. Pure but for its memory of what was sent.

The law: a safety alarm is always sent, whatever the rules and the quiet hours say, and again until it is acknowledged.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from kettlebridge.documents.calls import asked
from kettlebridge.documents.sentences import leading
from kettlebridge.documents.troubles import ALARM_WORDS
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import ENDED
from kettlebridge.model.snapshot import CallView, Snapshot
from kettlebridge.ports import LocalTime

SOUNDING = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.LATCHED_UNACKNOWLEDGED})
SAFETY_REPEAT_S = 300.0
REMEMBERED = 512
"""Notifications remembered as sent; the oldest are forgotten. A day has some fifty."""


class About(Enum):
    """What a rule is about."""

    ALARM = "alarm"
    CALL = "call"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """The first rule that fits decides. `codes` are causes of alarms or kinds of calls; empty: all of them.

    `send` false: not sent. `in_quiet`: in the quiet hours too. `repeat_s`: again until acknowledged or answered, None:
    once.
    """

    about: About
    codes: frozenset[str] = frozenset()
    send: bool = True
    in_quiet: bool = False
    repeat_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Quiet:
    """From and to, each "HH:MM" on the wall clock; over midnight where `until` is the earlier one."""

    since: str
    until: str

    def holds(self, hh_mm: str) -> bool:
        """Whether that time is a quiet one."""
        if self.since <= self.until:
            return self.since <= hh_mm < self.until
        return hh_mm >= self.since or hh_mm < self.until


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """One notification. `urgent`: a safety alarm."""

    title: str
    text: str
    urgent: bool = False


DEFAULT_RULES: tuple[Rule, ...] = (
    Rule(about=About.ALARM, repeat_s=300.0),
    Rule(about=About.CALL, repeat_s=600.0),
    Rule(about=About.END),
)

Key = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Occasion:
    """Something that may be told of."""

    key: Key
    about: About
    code: str
    notice: Notice


class Rules:
    """Turns ticks into notices. A notice that the quiet hours held back comes after them, if it still holds."""

    def __init__(self, rules: Sequence[Rule], quiet: Quiet | None, time: LocalTime) -> None:
        self._rules = tuple(rules)
        self._quiet = quiet
        self._time = time
        self._sent_s: dict[Key, float] = {}

    def look(self, snapshot: Snapshot) -> tuple[Notice, ...]:
        """What is to be told now. Times are batch times."""
        quiet = self._quiet is not None and self._quiet.holds(self._time.hh_mm(snapshot.at_utc_s))
        due = [one for one in _occasions(snapshot) if self._is_due(one, snapshot.now_s, quiet=quiet)]
        for one in due:
            self._sent_s.pop(one.key, None)
            self._sent_s[one.key] = snapshot.now_s
        while len(self._sent_s) > REMEMBERED:
            del self._sent_s[next(iter(self._sent_s))]
        return tuple(one.notice for one in due)

    def _is_due(self, one: _Occasion, now_s: float, *, quiet: bool) -> bool:
        rule = next((rule for rule in self._rules if _fits(rule, one)), None)
        urgent = one.notice.urgent
        if not urgent and (rule is None or not rule.send or (quiet and not rule.in_quiet)):
            return False
        sent_s = self._sent_s.get(one.key)
        repeat_s = None if rule is None else rule.repeat_s
        if urgent:
            repeat_s = min(SAFETY_REPEAT_S, repeat_s or SAFETY_REPEAT_S)
        return sent_s is None or (repeat_s is not None and now_s - sent_s >= repeat_s)


def _fits(rule: Rule, one: _Occasion) -> bool:
    return rule.about is one.about and (not rule.codes or one.code in rule.codes)


def _occasions(snapshot: Snapshot) -> Iterator[_Occasion]:
    batch = str(snapshot.batch)
    for record in snapshot.alarms:
        if record.state in SOUNDING:
            key = (batch, "alarm", record.cause, f"{record.since_s:.3f}")
            yield _Occasion(key=key, about=About.ALARM, code=record.cause, notice=_alarm(snapshot, record))
    for call in snapshot.calls:
        if call.raised_s is not None:
            key = (batch, "call", call.id, f"{call.raised_s:.3f}")
            yield _Occasion(key=key, about=About.CALL, code=call.kind, notice=_call(snapshot, call))
    if snapshot.state in ENDED:
        notice = Notice(title=_title(snapshot), text=leading(snapshot))
        yield _Occasion(key=(batch, "end"), about=About.END, code=snapshot.state.value, notice=notice)


def _alarm(snapshot: Snapshot, record: AlarmRecord) -> Notice:
    words = ALARM_WORDS[record.cause]
    text = f"{words.happened} {words.now} {words.do}\n{leading(snapshot)}"
    mark = "SAFETY" if record.safety else "alarm"
    return Notice(title=f"{_title(snapshot)}: {mark}", text=text, urgent=record.safety)


def _call(snapshot: Snapshot, call: CallView) -> Notice:
    words = asked(call)
    where = "at the kettle" if words.at_kettle else "for you"
    parts = (words.do, words.text, words.caution, leading(snapshot))
    return Notice(title=f"{_title(snapshot)}: {where}", text="\n".join(part for part in parts if part))


def _title(snapshot: Snapshot) -> str:
    return snapshot.kettle if snapshot.nothing_chosen else f"{snapshot.kettle} ({snapshot.profile})"
