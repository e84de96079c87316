"""The service's own regulators, exactly as the tick calls them: sample filter, drive, relay window."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from kettlebridge.brewing.day import ROOM_C
from kettlebridge.core.drive import drive
from kettlebridge.core.probes import UNHEARD, observe
from kettlebridge.core.regulator import AT_REST
from kettlebridge.core.relay_window import CLOSED
from kettlebridge.core.situation import Situation
from kettlebridge.core.thermal import UNKNOWN
from kettlebridge.model.event import Event
from kettlebridge.model.kettle import Kettle, MashTarget, RegulatorKind
from kettlebridge.model.reading import Reading
from kettlebridge.simulated.family.course import PERIOD_S, Seen


class Ours:
    """One of core's regulators with the memory that a batch would keep for it."""

    def __init__(self, regulator: RegulatorKind, mash_target: MashTarget) -> None:
        self._regulator = regulator
        self._mash_target = mash_target
        self._kettle: Kettle | None = None
        self._probe = UNHEARD
        self._regulation = AT_REST
        self.thermal = UNKNOWN
        self._window = CLOSED
        self.events: list[Event] = []

    def permille(self, seen: Seen) -> int:
        """What `drive` wants of the heater."""
        if self._kettle is None:
            self._kettle = replace(seen.member.kettle, regulator=self._regulator, mash_target=self._mash_target)
        kettle = self._kettle
        reading = Reading(probe=kettle.probes[0].name, value_c=seen.reading_c, age_s=0.0)
        self._probe = observe(self._probe, kettle.probes[0], reading, seen.now_s)
        here = Situation(
            kettle=kettle,
            learnt=None,
            ledger=seen.ledger,
            control_c=self._probe.good_c,
            control_s=self._probe.good_s,
            ambient_c=ROOM_C,
            limit_fraction=1.0,
            contactor_ready=True,
            applied_fraction=seen.applied_fraction,
            pumping=seen.pumping,
            now_s=seen.now_s,
            dt_s=PERIOD_S,
        )
        driven = drive(here, seen.wish, self._regulation, self.thermal, self._window)
        self._regulation, self.thermal, self._window = driven.regulation, driven.thermal, driven.window
        self.events.extend(driven.events)
        return driven.wants.heater_permille


def ours(regulator: RegulatorKind, mash_target: MashTarget) -> Callable[[], Ours]:
    """Makes the regulator that a kettle file with these two keys would choose."""
    return lambda: Ours(regulator, mash_target)
