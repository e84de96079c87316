"""A day under way, judged by what was measured on it: what is in the kettle, what comes of it, what may be done."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.brewing.day import Day
from kettlebridge.brewing.extract import EXTRACT_L_PER_KG, plato_of
from kettlebridge.brewing.gravity import WATER_20_C_KG_PER_L, extract_kg, plato, sg
from kettlebridge.brewing.hops_under_way import hops_under_way, waits_min
from kettlebridge.brewing.outlook import Standing
from kettlebridge.brewing.rescue import Advice, Rescue
from kettlebridge.brewing.rescue_choices import Wanted, choices, left_as_it_is
from kettlebridge.brewing.timetable import climb_vapour_l, heat_can_boil
from kettlebridge.brewing.under_way import UnderWay, under_way
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import Addition, Aim, Plan
from kettlebridge.model.trace import Happening, Trace
from kettlebridge.model.units import MIN_PER_H, S_PER_MIN

PAIR_S = 15 * S_PER_MIN
"""Litres read off so soon after a gravity are the litres of that gravity (common practice, no source)."""


def measured_day(plan: Plan, trace: Trace) -> Rescue | None:
    """What was measured since the grain is out, and what comes of it.

    None where that says nothing: the profile has no aim or no boil, water or grain are still to come, nothing was
    measured, or the kettle is empty. Raises ValueError: it boils dry.
    """
    aim, way = plan.profile.aim, under_way(plan, trace)
    if aim is None or way is None or not (way.gravities or way.volumes):
        return None
    sugars = tuple(each for each, _ in way.sugars)
    all_kg, all_l = _dissolved(sugars)
    kept_l = plan.kettle.dead_space_l + aim.hops_keep_l
    planned_kg = extract_kg(aim.fermenter_l + kept_l, plato(aim.original_sg)) - all_kg
    in_kg, in_l = _dissolved(tuple(each for each, made in way.sugars if made is not None))
    gravity = way.gravities[-1] if way.gravities else None
    held_kg = planned_kg + in_kg if gravity is None else _held_kg(way, gravity)
    standing = Standing(
        volume_l=way.volume_l + _room_since(way),
        extract_kg=held_kg,
        begun_sg=aim.original_sg,
        boil_c=plan.kettle.boil_c,
        boil_left_min=way.boil_left_min,
        boil_off_l_per_h=_boil_off_l_per_h(plan, way),
        kept_l=kept_l,
        attenuation_fraction=aim.attenuation_percent / 100.0,
        hops=hops_under_way(plan, aim, trace, way),
        vapour_l=_vapour_l(plan, way),
        dissolves_kg=all_kg - in_kg,
        dissolves_l=all_l - in_l,
        waits_min=waits_min(way),
    )
    standing = replace(standing, begun_sg=_begun_sg(standing, way, in_kg, in_l))
    wanted = Wanted(original_sg=aim.original_sg, fermenter_l=aim.fermenter_l, bitterness_ibu=aim.bitterness_ibu)
    found = _found(standing, aim, None if gravity is None else (held_kg - in_kg) / planned_kg)
    mends = tuple(_with_step(mend, way.boil_index) for mend in choices(standing, wanted))
    return Rescue(found=found, unmended=left_as_it_is(standing, wanted), mends=mends)


def _dissolved(sugars: tuple[Addition, ...]) -> tuple[float, float]:
    """Extract in them, and the room that they take; what is no extract is water."""
    in_kg, in_l = 0.0, 0.0
    for each in sugars:
        share = 1.0 if each.extract_percent is None else each.extract_percent / 100.0
        kg = each.grams / 1000.0
        in_kg += share * kg
        in_l += EXTRACT_L_PER_KG * share * kg + (1.0 - share) * kg / WATER_20_C_KG_PER_L
    return in_kg, in_l


def _since(way: UnderWay, at_s: float) -> tuple[float, float]:
    """Sugars that went in after a moment."""
    return _dissolved(tuple(each for each, made in way.sugars if made is not None and made.at_s > at_s))


def _room_since(way: UnderWay) -> float:
    """Of sugars that no measured volume has in it yet: the kettle's own count is of water alone."""
    return _since(way, way.volumes[-1].at_s if way.volumes else float("-inf"))[1]


def _held_kg(way: UnderWay, gravity: Happening) -> float:
    """Extract in the kettle now: that of the measured wort, and what went in since."""
    there_l = gravity.seen.volume_l or 0.0
    before = [each for each in way.volumes if each.at_s <= gravity.at_s]
    room_to_now = _since(way, before[-1].at_s if before else float("-inf"))[1]
    there_l += room_to_now - _since(way, gravity.at_s)[1]
    soon = next((each for each in way.volumes if 0.0 < each.at_s - gravity.at_s <= PAIR_S), None)
    if soon is not None:
        there_l += soon.event.figure("volume_l") - soon.event.figure("counted_l")
    return extract_kg(there_l, plato(gravity.event.figure("gravity_sg"))) + _since(way, gravity.at_s)[0]


def _boil_off_l_per_h(plan: Plan, way: UnderWay) -> float:
    return min(way.boil.boil_off_l_per_h or plan.kettle.boil_off_l_per_h, heat_can_boil(plan.kettle, Day()))


def _vapour_l(plan: Plan, way: UnderWay) -> float:
    """What rises on the way to the boil is in no count: gone unseen until litres are read off in the boil."""
    seen = way.boils_s is not None and any(each.at_s > way.boils_s for each in way.volumes)
    return 0.0 if seen else climb_vapour_l(plan.kettle, Day())


def _begun_sg(standing: Standing, way: UnderWay, in_kg: float, in_l: float) -> float:
    """The wort as its boil began, by what has boiled away since."""
    boiled_l = standing.boil_off_l_per_h * way.boiled_min / MIN_PER_H
    return sg(plato_of(standing.extract_kg - in_kg, standing.volume_l - in_l + boiled_l))


def _found(standing: Standing, aim: Aim, share: float | None) -> Advice:
    volume = ("volume_l", standing.volume_l)
    if share is None:
        return Advice(code="volume_measured", values=(volume,))
    return Advice(
        code="wort_measured",
        values=(
            volume,
            ("found_sg", sg(plato_of(standing.extract_kg, standing.volume_l))),
            ("efficiency_percent", aim.efficiency_percent * share),
            ("planned_percent", aim.efficiency_percent),
        ),
    )


def _with_step(mend: Advice, boil_index: int) -> Advice:
    """A change of the boil's time says which step it is, as people count them."""
    if mend.code not in {"boil_longer", "boil_shorter"}:
        return mend
    return replace(mend, values=(*mend.values, ("step", float(boil_index + 1))))


def measured_days(plan: Plan, trace: Trace) -> tuple[tuple[Happening, Rescue], ...]:
    """What each measurement of a batch said at its time."""
    said = []
    for place, each in enumerate(trace.happenings):
        if each.event.code is not EventCode.MEASURED:
            continue
        until = replace(trace, happenings=trace.happenings[: place + 1], last=each.seen)
        try:
            found = measured_day(plan, until)
        except ValueError:
            continue
        if found is not None:
            said.append((each, found))
    return tuple(said)
