"""A snapshot as the templates take it: every word already chosen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kettlebridge.documents.ahead import begins_about, free_until
from kettlebridge.documents.amounts import degrees, duration, energy, litres
from kettlebridge.documents.calls import ASK, asked
from kettlebridge.documents.sentences import leading, outputs, place, standing
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.documents.steps import planned
from kettlebridge.documents.troubles import ALARM_WORDS, OVER_WORDS, PROBE_WORDS
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import ENDED, BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.plan import AskKind, Plan
from kettlebridge.model.reading import BoardInput
from kettlebridge.model.snapshot import CallView, Snapshot
from kettlebridge.model.trace import Span
from kettlebridge.ports import LocalTime
from kettlebridge.web.offers import CALLS_WAIT, FIRST, FORMS, MEASURES, Offer, arming_offer, further_offers

PRESENT = "present"
NEEDS_A_DAY = frozenset({CommandKind.START, CommandKind.STOP})
"""Not offered while nothing is chosen."""

ASKS_LITRES = frozenset({AskKind.FILL.value, AskKind.INFUSE.value, AskKind.SPARGE.value})
"""Asks whose confirmation may say how many litres it was."""

SEEN = frozenset({AlarmState.ACKNOWLEDGED, AlarmState.LATCHED_ACKNOWLEDGED})
OVER = AlarmState.RETURNED_UNACKNOWLEDGED
UNANSWERED = "unanswered"
"""The alarm that is told with the calls that it is about."""
NO_PROFILE = "nothing chosen"
NEAR_BEFORE, NEAR_AFTER = 1, 4
"""Steps before and from the one in hand that are always in sight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CallCard:
    """Something asked of the brewer. `litres` is what stands in its field, None for one without.

    `grain`: it may say how cold the grain is. `button`: the board has one that answers it. `unanswered`: how long
    it was not, where that is an alarm; `rings`: nobody has said that they saw it.
    """

    id: str
    do: str
    text: str
    caution: str
    answer: str
    at_kettle: bool
    button: bool
    litres: str | None
    grain: bool
    since: str
    unanswered: str
    rings: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmCard:
    """An alarm in three sentences; one that is `over` in one."""

    cause: str
    happened: str
    now: str
    do: str
    seen: bool
    over: bool
    safety: bool
    since: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayStep:
    """A step in the line of the day. `when` is a time as it was, or about as it will be."""

    name: str
    planned: str
    when: str
    stands: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KettleView:
    """Everything a page says of a kettle at one tick. The line of the day is in three: long done, around now, later.

    `next`: the words that lead to another batch, empty where none may begin. `over`: there is a record of all of it.
    `standing` leaves out what an alarm says. `onward` is the way on where it stands still; `calls_wait` says why no
    call may be answered now.
    """

    kettle: str
    batch: str
    n: int
    profile: str
    sentence: str
    free: str
    standing: tuple[str, ...]
    calls: tuple[CallCard, ...]
    calls_wait: str
    alarms: tuple[AlarmCard, ...]
    done: tuple[DayStep, ...]
    near: tuple[DayStep, ...]
    later: tuple[DayStep, ...]
    facts: tuple[tuple[str, str], ...]
    onward: tuple[Offer, ...]
    first: tuple[Offer, ...]
    further: tuple[Offer, ...]
    measures: tuple[Offer, ...]
    at: str
    next: str
    over: bool


def kettle_view(snapshot: Snapshot, plan: Plan | None, spans: tuple[Span, ...], time: LocalTime) -> KettleView:
    """The words of a snapshot. Without the plan there are fewer."""
    day = () if plan is None else tuple(_day(snapshot, plan, spans, time))
    here = sum(1 for step in day if step.stands == "done")
    first, last = max(0, here - NEAR_BEFORE), here + NEAR_AFTER
    alarmed = {ALARM_WORDS[alarm.cause].happened for alarm in snapshot.alarms if alarm.state is not AlarmState.NORMAL}
    if any(_pauses(alarm) for alarm in snapshot.alarms):
        alarmed.add(STATE_WORDS[BatchState.HELD].meaning)
    left_out = NEEDS_A_DAY if snapshot.nothing_chosen else frozenset()
    return KettleView(
        kettle=snapshot.kettle,
        batch=snapshot.batch,
        n=snapshot.n,
        profile=snapshot.profile or NO_PROFILE,
        sentence=leading(snapshot, plan),
        free=free_until(snapshot, plan, time),
        standing=tuple(words for words in standing(snapshot) if words not in alarmed),
        calls=tuple(_call(call, snapshot, plan, time) for call in snapshot.calls),
        calls_wait=CALLS_WAIT.get(snapshot.state, ""),
        alarms=tuple(_alarm(alarm, snapshot, time) for alarm in snapshot.alarms if _stands_alone(alarm, snapshot)),
        done=day[:first],
        near=day[first:last],
        later=day[last:],
        facts=tuple(_facts(snapshot)),
        onward=tuple(FORMS[kind] for kind in FIRST.get(snapshot.state, ()) if kind not in left_out),
        first=arming_offer(snapshot),
        further=tuple(one for one in further_offers(snapshot) if one.kind not in left_out),
        measures=() if snapshot.nothing_chosen else MEASURES,
        at=time.hh_mm(snapshot.at_utc_s),
        next=next_words(snapshot),
        over=snapshot.state in ENDED,
    )


def _pauses(alarm: AlarmRecord) -> bool:
    """Whether an alarm's card says, with all its words, that the day is paused and how to carry on."""
    return alarm.safety and alarm.state not in SEEN


def next_words(snapshot: Snapshot) -> str:
    """The way to what is brewed next, where another batch may take this one's place."""
    if snapshot.state in ENDED:
        return "Brew something next"
    begun = snapshot.step is not None and snapshot.step.begun
    if snapshot.state is not BatchState.IDLE or begun:
        return ""
    return "Choose what to brew" if snapshot.nothing_chosen else "Brew something else"


def _stands_alone(alarm: AlarmRecord, snapshot: Snapshot) -> bool:
    """Whether an alarm has a card of its own: it is there, and no call that is asked says it."""
    asked_still = alarm.cause == UNANSWERED and any(call.overdue for call in snapshot.calls)
    return alarm.state is not AlarmState.NORMAL and not (asked_still and alarm.state is not OVER)


def _alarm(alarm: AlarmRecord, snapshot: Snapshot, time: LocalTime) -> AlarmCard:
    words, over = ALARM_WORDS[alarm.cause], alarm.state is OVER
    return AlarmCard(
        cause=alarm.cause,
        happened=OVER_WORDS[alarm.cause] if over else words.happened,
        now="" if over else words.now,
        do="" if over else words.do,
        seen=alarm.state in SEEN,
        over=over,
        safety=alarm.safety,
        since=time.hh_mm(snapshot.at_utc_s - snapshot.now_s + alarm.since_s),
    )


def _rings(snapshot: Snapshot) -> bool:
    """Whether nobody has seen that a call is not answered."""
    return any(one.cause == UNANSWERED and one.state is AlarmState.UNACKNOWLEDGED for one in snapshot.alarms)


def _unanswered(call: CallView, snapshot: Snapshot) -> str:
    if not call.overdue or call.raised_s is None:
        return ""
    return f"asked {duration(snapshot.now_s - call.raised_s)} ago, unanswered"


def _call(call: CallView, snapshot: Snapshot, plan: Plan | None, time: LocalTime) -> CallCard:
    zero_utc_s = snapshot.at_utc_s - snapshot.now_s
    words = asked(call, plan)
    measured = call.kind == ASK and call.subject in ASKS_LITRES
    return CallCard(
        id=call.id,
        do=words.do,
        text=words.text,
        caution=words.caution,
        answer=words.answer,
        at_kettle=words.at_kettle,
        button=words.at_kettle and (plan is None or BoardInput.CONFIRM in plan.kettle.inputs),
        litres=("" if call.litres is None else f"{call.litres:.1f}") if measured else None,
        grain=call.kind == PRESENT and plan is not None and plan.profile.water.grain_c is not None,
        since="" if call.raised_s is None else time.hh_mm(zero_utc_s + call.raised_s),
        unanswered=_unanswered(call, snapshot),
        rings=call.overdue and _rings(snapshot),
    )


def _day(snapshot: Snapshot, plan: Plan, spans: tuple[Span, ...], time: LocalTime) -> Iterator[DayStep]:
    """The line of the day: what is done, where we are, what is to come and about when."""
    begun = {span.index: time.hh_mm(snapshot.at_utc_s - snapshot.now_s + span.begun_s) for span in spans}
    to_come = begins_about(snapshot, time)
    here = -1 if snapshot.step is None else snapshot.step.index
    here = len(plan.profile.steps) if snapshot.state in ENDED else here
    for index, step in enumerate(plan.profile.steps):
        stands = "done" if index < here else "now" if index == here else "ahead"
        when = begun.get(index, "") if index <= here else to_come.get(index, "")
        yield DayStep(name=step.name, planned=planned(step), when=when, stands=stands)


def _facts(snapshot: Snapshot) -> Iterator[tuple[str, str]]:
    yield "on now", outputs(snapshot)
    step = snapshot.step
    if step is not None:
        yield "where", place(step)
        if step.target_c is not None:
            yield "meant to be", degrees(step.target_c)
    if snapshot.bed_c is not None:
        yield "in the grain", f"about {degrees(snapshot.bed_c)}"
    if snapshot.boil_over is not None:
        yield "may boil over", snapshot.boil_over
    for probe in snapshot.probes:
        fault = "" if probe.fault is None else f", {PROBE_WORDS[probe.fault]}"
        yield f"probe {probe.probe}", f"{degrees(probe.value_c)}{fault}"
    for board in snapshot.boards:
        if board.name:
            yield f"board {board.name}", "there" if board.linked else "not there"
    yield "in the kettle", "not known" if snapshot.volume_l is None else litres(snapshot.volume_l)
    yield "electricity so far", energy(snapshot.energy_kwh)
