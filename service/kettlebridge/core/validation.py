"""Does this profile fit this kettle? Every reason why not, as codes and values."""

from __future__ import annotations

from collections.abc import Iterator

from kettlebridge.brewing.day import ROOM_C
from kettlebridge.brewing.mash import GRAIN_ROOM_L_PER_KG
from kettlebridge.brewing.vessel import BOIL_COVER, ON_THE_BED_L
from kettlebridge.core.heat import boil_fraction
from kettlebridge.core.ledger import litres_asked
from kettlebridge.model.event import Scalar
from kettlebridge.model.kettle import ChillWay, Kettle, ProbeRole
from kettlebridge.model.plan import (
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    Plan,
    Profile,
    RestStep,
)
from kettlebridge.model.reason import Reason
from kettlebridge.model.units import MIN_PER_H

FILLING = frozenset({AskKind.FILL, AskKind.DOUGH_IN, AskKind.INFUSE, AskKind.SPARGE})
WITH_GRAIN = frozenset({AskKind.DOUGH_IN, AskKind.INFUSE})
BED_BEGINS_OR_ENDS = WITH_GRAIN | {AskKind.LIFT, AskKind.EMPTY}


def misfits(kettle: Kettle, profile: Profile) -> tuple[Reason, ...]:
    """Every reason why `profile` cannot run in `kettle`; empty when it can."""
    return (
        *_volumes(kettle, profile),
        *_fittings(kettle, profile),
        *_temperatures(kettle, profile),
    )


def _volumes(kettle: Kettle, profile: Profile) -> Iterator[Reason]:
    """Walks through the day's litres and looks at each step whether they fit and cover the element."""
    plan = Plan(kettle=kettle, profile=profile)
    in_kettle_l, in_bed_l = 0.0, 0.0
    for index, step in enumerate(profile.steps):
        here = (("index", index), ("step", step.name))
        if isinstance(step, AskStep):
            in_kettle_l = _after_ask(in_kettle_l, step, plan)
            if step.what in BED_BEGINS_OR_ENDS:
                in_bed_l = _in_bed_l(plan) if step.what in WITH_GRAIN else 0.0
            grain_kg = profile.water.grain_kg if step.what in WITH_GRAIN else 0.0
            taken_l = in_kettle_l + GRAIN_ROOM_L_PER_KG * grain_kg
            if step.what in FILLING and taken_l > kettle.capacity_l:
                yield Reason(
                    code="too_much",
                    values=(*here, ("litres", round(taken_l, 2)), ("capacity_l", kettle.capacity_l)),
                )
        elif isinstance(step, ChillStep):
            in_kettle_l = 0.0 if (step.way or kettle.chill) is ChillWay.IN_LINE else in_kettle_l
        else:
            if isinstance(step, BoilStep):
                in_kettle_l -= (step.boil_off_l_per_h or kettle.boil_off_l_per_h) * step.for_min / MIN_PER_H
            # The rule that ends a boil before the element is bare must not end one that goes as planned.
            least_l = kettle.element_cover_l * (BOIL_COVER if isinstance(step, BoilStep) else 1.0)
            if in_kettle_l - in_bed_l < least_l:
                yield Reason(
                    code="element_bare",
                    values=(
                        *here,
                        ("litres", round(in_kettle_l - in_bed_l, 2)),
                        ("element_cover_l", round(least_l, 2)),
                    ),
                )


def _in_bed_l(plan: Plan) -> float:
    """Litres of a mash that are not under the basket, whatever the level."""
    soaked_l = plan.kettle.grain_absorption_l_per_kg * plan.profile.water.grain_kg
    return soaked_l + ON_THE_BED_L * plan.kettle.has_pump


def _after_ask(in_kettle_l: float, step: AskStep, plan: Plan) -> float:
    """Litres at 20 °C in the kettle once the ask is confirmed as asked."""
    litres = litres_asked(step, plan) or 0.0
    absorbed_l = plan.kettle.grain_absorption_l_per_kg * plan.profile.water.grain_kg
    after_l = {
        AskKind.FILL: litres,
        AskKind.LIFT: in_kettle_l - absorbed_l,
        AskKind.INFUSE: in_kettle_l + litres,
        AskKind.SPARGE: in_kettle_l + litres,
        AskKind.EMPTY: 0.0,
    }
    return after_l.get(step.what, in_kettle_l)


def _fittings(kettle: Kettle, profile: Profile) -> Iterator[Reason]:
    roles = {probe.role for probe in kettle.probes}
    if profile.ready_at is not None and not kettle.has_main_contactor:
        yield Reason(code="unattended_without_contactor", values=())
    if ProbeRole.CONTROL not in roles:
        yield Reason(code="no_control_probe", values=())
    for index, step in enumerate(profile.steps):
        values: tuple[tuple[str, Scalar], ...] = (("index", index), ("step", step.name))
        if isinstance(step, ChillStep) and step.way is not None and step.way is not kettle.chill:
            yield Reason(code="other_chiller", values=(*values, ("way", step.way.value), ("chill", kettle.chill.value)))
        pumps = (
            (isinstance(step, HeatStep) and step.pump)
            or (isinstance(step, RestStep) and step.pump_after_min is not None)
            or (isinstance(step, HopStandStep) and step.pump)
            or (isinstance(step, BoilStep) and step.sanitise_last_min is not None)
            or isinstance(step, CirculateStep)
        )
        if pumps and not kettle.has_pump:
            yield Reason(code="no_pump", values=values)
        asked_l_per_h = step.boil_off_l_per_h if isinstance(step, BoilStep) else None
        if asked_l_per_h is not None and boil_fraction(kettle, asked_l_per_h, ROOM_C) >= 1.0:
            yield Reason(
                code="more_boil_off_than_heat",
                values=(*values, ("boil_off_l_per_h", asked_l_per_h), ("heater_w", kettle.heater_w)),
            )


def _temperatures(kettle: Kettle, profile: Profile) -> Iterator[Reason]:
    for index, step in enumerate(profile.steps):
        target_c = getattr(step, "to_c", None) or getattr(step, "at_c", None)
        if target_c is not None and target_c >= kettle.boil_c:
            yield Reason(
                code="above_the_boil",
                values=(("index", index), ("step", step.name), ("target_c", target_c), ("boil_c", kettle.boil_c)),
            )
