"""Small mishaps of a brewer, drawn by chance, for a practice day."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from kettlebridge.core.calls import CallKind
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import AskKind
from kettlebridge.model.snapshot import CallView
from kettlebridge.simulated.brewer import TAP_C, Moment, usual_acts
from kettlesim.acts import Act, AddWater, GrainIn, SetLid, Stir

FROSTY_C = -4.0
JUG_SHARE = 0.08
"""Of the water in the kettle: what is poured in cold, or is missing."""

DRAWN = 2
"""Mishaps of one day."""


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
    `unmended` that it never came. `alarms` are those that may speak of it.
    """

    on: str
    happened: str
    until: EventCode
    mended: str
    unmended: str
    alarms: frozenset[str]
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
        alarms=frozenset({"low_fill", "level_low", "level_dry", "boil_dry"}),
    ),
    Mishap(
        on=AskKind.DOUGH_IN.value,
        happened="The grain came from a frosty shed, with a jug of cold water.",
        acts=_cold_grain,
        until=EventCode.STAGE,
        stage="hold",
        mended="The rest began {minutes:.0f} min after it.",
        unmended="The rest never began.",
        alarms=frozenset({"twice_the_plan", "fell_out"}),
    ),
    Mishap(
        on=CallKind.STAND_BY.value,
        happened="The lid stayed on when it was to come off before the boil.",
        acts=_nothing,
        until=EventCode.BOIL_FOUND,
        mended="It was taken off when the boil was confirmed, {minutes:.0f} min later.",
        unmended="It never came to a boil.",
        alarms=frozenset({"foam", "over_budget"}),
    ),
    Mishap(
        on=AskKind.LIFT.value,
        happened="Nobody came to lift the basket.",
        late_s=(2100.0, 3000.0),
        until=EventCode.CALL_ANSWERED,
        mended="It was lifted {minutes:.0f} min after it was called for.",
        unmended="Nobody ever came.",
        alarms=frozenset({"unanswered"}),
    ),
    Mishap(
        on=CallKind.ADDITION.value,
        happened="An addition was forgotten.",
        late_s=(360.0, 600.0),
        until=EventCode.CALL_ANSWERED,
        mended="It went in {minutes:.0f} min late.",
        unmended="It never went in.",
        alarms=frozenset({"unanswered"}),
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
