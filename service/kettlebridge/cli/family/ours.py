"""The service's own regulators, exactly as the tick calls them: sample filter, drive, relay window."""

from __future__ import annotations

from collections.abc import Callable

from kettlebridge.cli.family.course import PERIOD_S, Seen
from kettlebridge.core.drive import Situation, drive
from kettlebridge.core.heat import ROOM_C
from kettlebridge.core.probes import UNHEARD, observe
from kettlebridge.core.regulator import AT_REST
from kettlebridge.core.relay_window import CLOSED
from kettlebridge.model.reading import Reading


class Ours:
    """One of core's regulators with the memory that a batch would keep for it."""

    def __init__(self) -> None:
        self._probe = UNHEARD
        self._regulation = AT_REST
        self._window = CLOSED

    def permille(self, seen: Seen) -> int:
        """What `drive` wants of the heater."""
        kettle = seen.member.kettle
        reading = Reading(probe=kettle.probes[0].name, value_c=seen.reading_c, age_s=0.0)
        self._probe = observe(self._probe, kettle.probes[0], reading, seen.now_s)
        here = Situation(
            kettle=kettle,
            ledger=seen.ledger,
            control_c=self._probe.good_c,
            ambient_c=ROOM_C,
            limit_fraction=1.0,
            contactor_closed=True,
            now_s=seen.now_s,
            dt_s=PERIOD_S,
        )
        driven = drive(here, seen.wish, self._regulation, self._window)
        self._regulation, self._window = driven.regulation, driven.window
        return driven.wants.heater_permille


def ours() -> Callable[[], Ours]:
    """Makes core's regulator."""
    return Ours
