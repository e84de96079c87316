"""A practice day: small mishaps of a brewer, drawn by chance, and at the end how each was found and mended."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from kettlebridge.cli.simulated_brewer import TAP_C, Moment, usual_acts
from kettlebridge.core.calls import CallKind
from kettlebridge.documents.troubles import ALARM_WORDS
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import AskKind
from kettlebridge.model.snapshot import CallView
from kettlebridge.model.trace import Happening, Trace
from kettlebridge.ports import LocalTime
from kettlesim.acts import Act, AddWater, GrainIn, SetLid, Stir

FROSTY_C = -4.0
JUG_SHARE = 0.08
"""Of the water in the kettle: what is poured in cold, or is missing."""

DRAWN = 2
"""Mishaps of one day."""

S_PER_MIN = 60.0


def _cold_grain(m: Moment) -> tuple[Act, ...]:
    jug_l = JUG_SHARE * m.plan.profile.water.fill_l
    grain = GrainIn(kg=m.call.kg or 0.0, temp_c=FROSTY_C)
    return (SetLid(on=False), grain, AddWater(litres=jug_l, temp_c=TAP_C), Stir(), SetLid(on=True))


def _short_fill(m: Moment) -> tuple[Act, ...]:
    return (AddWater(litres=(1.0 - JUG_SHARE) * (m.call.litres or 0.0), temp_c=TAP_C), SetLid(on=True))


def _nothing(_: Moment) -> tuple[Act, ...]:
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Mishap:
    """`on` is the ask's or the call's kind that it befalls, `happened` says what it was.

    `acts` are what hands do instead (None: as usual), `late_s` for how long they do not come; the latter befalls only
    a simulated brewer. It is over with an event `until` (at a `stage`); `mended` tells after how many {minutes},
    `unmended` that it never came.
    """

    on: str
    happened: str
    until: EventCode
    mended: str
    unmended: str
    acts: Callable[[Moment], tuple[Act, ...]] | None = None
    late_s: tuple[float, float] | None = None
    stage: str | None = None


MISHAPS: tuple[Mishap, ...] = (
    Mishap(
        on=AskKind.FILL.value,
        happened="Less water went in than was confirmed.",
        acts=_short_fill,
        until=EventCode.MEASURED,
        mended="It was measured after {minutes:.0f} min, and the reckoning put right.",
        unmended="Nobody measured it: the record reckons with water that was never there.",
    ),
    Mishap(
        on=AskKind.DOUGH_IN.value,
        happened="The grain came from a frosty shed, with a jug of cold water.",
        acts=_cold_grain,
        until=EventCode.STAGE,
        stage="hold",
        mended="The rest began {minutes:.0f} min after it.",
        unmended="The rest never began.",
    ),
    Mishap(
        on=CallKind.STAND_BY.value,
        happened="The lid stayed on when it was to come off before the boil.",
        acts=_nothing,
        until=EventCode.BOIL_FOUND,
        mended="It was taken off when the boil was confirmed, {minutes:.0f} min later.",
        unmended="It never came to a boil.",
    ),
    Mishap(
        on=AskKind.LIFT.value,
        happened="Nobody came to lift the basket.",
        late_s=(2100.0, 3000.0),
        until=EventCode.CALL_ANSWERED,
        mended="It was lifted {minutes:.0f} min after it was called for.",
        unmended="Nobody ever came.",
    ),
    Mishap(
        on=CallKind.ADDITION.value,
        happened="An addition was forgotten.",
        late_s=(360.0, 600.0),
        until=EventCode.CALL_ANSWERED,
        mended="It went in {minutes:.0f} min late.",
        unmended="It never went in.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Befell:
    """A mishap that came, at batch time `at_s`, to the call of that id."""

    mishap: Mishap
    call: str
    at_s: float


class PracticeDay:
    """Draws a day's mishaps and gives them to whoever's hands are in the simulated kettle.

    `hands_off`: also those of a brewer who does not come.
    """

    def __init__(self, *, seed: int, hands_off: bool) -> None:
        rng = random.Random(f"mishaps/{seed}")  # noqa: S311  # practice, not secrets
        there = [mishap for mishap in MISHAPS if hands_off or mishap.late_s is None]
        self._waiting = rng.sample(there, DRAWN)
        self._rng = rng
        self.befell: list[Befell] = []

    def late_s(self, call: CallView, now_s: float) -> float:
        """For how much longer than usual nobody comes to a call that was just raised."""
        mishap = self._on(call)
        if mishap is None or mishap.late_s is None:
            return 0.0
        self._befalls(mishap, call, now_s)
        return self._rng.uniform(*mishap.late_s)

    def acts(self, moment: Moment) -> tuple[Act, ...]:
        """What hands do."""
        mishap = self._on(moment.call)
        if mishap is None or mishap.acts is None:
            return (*self._put_right(moment), *usual_acts(moment))
        self._befalls(mishap, moment.call, moment.snapshot.now_s)
        return mishap.acts(moment)

    def _put_right(self, moment: Moment) -> tuple[Act, ...]:
        """Whoever confirms the boil sees the lid."""
        return (SetLid(on=False),) if moment.call.kind == CallKind.BOILING.value else ()

    def _on(self, call: CallView) -> Mishap | None:
        kind = call.subject if call.kind == CallKind.ASK.value else call.kind
        return next((mishap for mishap in self._waiting if mishap.on == kind), None)

    def _befalls(self, mishap: Mishap, call: CallView, now_s: float) -> None:
        self._waiting.remove(mishap)
        self.befell.append(Befell(mishap=mishap, call=call.id, at_s=now_s))


def told(befell: list[Befell], trace: Trace, time: LocalTime) -> Iterator[str]:
    """The lines at the end of the day."""
    yield "Mishaps of this practice day:"
    if not befell:
        yield "  none came: the day ended before."
    for one in befell:
        yield f"  {_clock(one.at_s, trace, time)}  {one.mishap.happened}"
        for line in _handled(one, trace):
            yield f"         {line}"


def _handled(one: Befell, trace: Trace) -> Iterator[str]:
    """How it was found, and what became of it."""
    after = [happening for happening in trace.happenings if happening.at_s >= one.at_s]
    over = next((each for each in after if _ends(one, each)), None)
    meanwhile = [each for each in after if over is None or each.at_s <= over.at_s]
    again = sum(1 for each in meanwhile if each.event.code is EventCode.CALL_REPEATED and _is_of(one, each))
    if again:
        yield f"It was called for again {again} time{'' if again == 1 else 's'}."
    for each in meanwhile:
        if each.event.code is EventCode.ALARM_RAISED:
            minutes = (each.at_s - one.at_s) / S_PER_MIN
            yield f"Alarm after {minutes:.0f} min: {ALARM_WORDS[str(each.event.get('alarm'))].happened}"
    yield one.mishap.unmended if over is None else one.mishap.mended.format(minutes=(over.at_s - one.at_s) / S_PER_MIN)


def _ends(one: Befell, happening: Happening) -> bool:
    """Of a call it is the answer to that very call."""
    mishap, event = one.mishap, happening.event
    if event.code is not mishap.until or (mishap.stage is not None and event.get("stage") != mishap.stage):
        return False
    return one.mishap.until is not EventCode.CALL_ANSWERED or _is_of(one, happening)


def _is_of(one: Befell, happening: Happening) -> bool:
    return happening.event.get("call") == one.call


def _clock(at_s: float, trace: Trace, time: LocalTime) -> str:
    zero_utc_s = 0.0 if trace.last is None else trace.last.at_utc_s - trace.last.now_s
    return time.hh_mm(zero_utc_s + at_s)
