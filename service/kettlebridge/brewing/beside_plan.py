"""A batch's figures beside its sheet's: what was planned, what came of it. Unknown is None on either side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

from kettlebridge.brewing.brew_sheet import Sheet, brew_sheet
from kettlebridge.brewing.brewed import Brewed, added_l
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.hop_plan import HopLine
from kettlebridge.brewing.scaling import scaled
from kettlebridge.brewing.timetable import climb_vapour_l
from kettlebridge.model.plan import AdditionKind, BoilStep, HopStandStep, Plan, Profile
from kettlebridge.model.recipe import Recipe


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """`key` carries the unit."""

    key: str
    planned: float | None
    came: float | None


def brewed_from(recipe: Recipe, profile: Profile) -> bool:
    """Whether that day can be this beer's: by its name, or by hops of its own where it was named otherwise."""
    steps = (step.additions for step in profile.steps if isinstance(step, BoilStep | HopStandStep))
    hops = {each.name for additions in steps for each in additions if each.kind is AdditionKind.HOPS}
    return recipe.name == profile.name or (bool(hops) and hops <= {hop.name for hop in recipe.hops})


def sheet_of_plan(recipe: Recipe, plan: Plan) -> Sheet:
    """The sheet of `recipe` for as much grain as the batch had, or its own volume where it has none.

    Raises ValueError where there is no such day.
    """
    grain_kg = fsum(each.kg for each in recipe.mashed)
    share = plan.profile.water.grain_kg / grain_kg if grain_kg and plan.profile.water.grain_kg else 1.0
    return brew_sheet(scaled(recipe, recipe.batch_l * share), plan.kettle, Day())


def beside(plan: Plan, day: Brewed, sheet: Sheet | None, hops: Sequence[HopLine]) -> tuple[Beside, ...]:
    """All figures that either side knows."""
    water, kettle = plan.profile.water, plan.kettle
    boil_off = day.boil_off_l_per_h(climb_vapour_l(kettle, Day()), added_l(plan))
    rows = [
        Beside(key="water_l", planned=water.fill_l + plan.profile.infused_l + water.sparge_l, came=day.water_l),
        Beside(key="strike_error_c", planned=0.0, came=day.strike_error_c),
        Beside(key="pre_boil_l", planned=None if sheet is None else sheet.litres.pre_boil_l, came=day.pre_boil_l),
        Beside(key="pre_boil_sg", planned=None if sheet is None else sheet.gravities.pre_boil_sg, came=day.pre_boil_sg),
        Beside(key="efficiency_percent", planned=_planned_efficiency(sheet), came=_efficiency(sheet, day)),
        Beside(key="absorption_l_per_kg", planned=kettle.grain_absorption_l_per_kg, came=day.absorption_l_per_kg),
        Beside(key="boil_off_l_per_h", planned=kettle.boil_off_l_per_h, came=boil_off),
        Beside(key="post_boil_l", planned=None if sheet is None else sheet.litres.post_boil_l, came=day.post_boil_l),
        Beside(key="original_sg", planned=None if sheet is None else sheet.gravities.original_sg, came=day.original_sg),
    ]
    if sheet is not None:
        bitter = fsum(line.bitterness_ibu for line in hops)
        rows.append(Beside(key="bitterness_ibu", planned=sheet.bitterness_ibu, came=bitter))
    return tuple(rows)


def _planned_efficiency(sheet: Sheet | None) -> float | None:
    return None if sheet is None else 100.0 * sheet.recipe.efficiency_fraction


def _efficiency(sheet: Sheet | None, day: Brewed) -> float | None:
    """Share of the extract in what was mashed that was in the kettle before the boil."""
    if sheet is None or day.collected_kg is None:
        return None
    there_kg = fsum(each.extract_kg for each in sheet.recipe.mashed)
    return 100.0 * day.collected_kg / there_kg if there_kg else None
