"""What went wrong, as a brewer tells it on the page, and what mends it in this kettle."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from kettlebridge.brewing.beside_plan import sheet_of_plan
from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.gravity import hydrometer_corrected
from kettlebridge.brewing.rescue import Rescue
from kettlebridge.brewing.rescue_boil import boiled_over, late_hop, wort_before_the_boil
from kettlebridge.brewing.rescue_mash import missed_dough_in, stuck_mash
from kettlebridge.brewing.water import cold_litres
from kettlebridge.documents.rescue_words import rescue_words
from kettlebridge.model.plan import Plan
from kettlebridge.model.recipe import Recipe

SAMPLE_C = 20.0


def _a_point_for_a_comma(value: object) -> object:
    return value.strip().replace(",", ".") if isinstance(value, str) else value


Figure = Annotated[float, BeforeValidator(_a_point_for_a_comma)]


class Told(BaseModel):
    """Figures of a trouble; every one has its range, and is needed only where the trouble asks for it."""

    model_config = ConfigDict(extra="ignore", allow_inf_nan=False)

    found_c: Figure = Field(default=0.0, ge=20, le=95)
    litres: Figure = Field(default=0.0, ge=0.5, le=300)
    litres_c: Figure = Field(default=SAMPLE_C, ge=0, le=101)
    gravity_sg: Figure = Field(default=0.0, ge=1.0, le=1.18)
    sample_c: Figure = Field(default=SAMPLE_C, ge=0, le=60)
    hop: str = Field(default="", min_length=1, max_length=120)
    left_min: Figure = Field(default=0.0, ge=0, le=240)
    lost_l: Figure = Field(default=0.0, ge=0.05, le=100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """`words` name it, `fields` are those of Told that it needs with their labels, `rescue` works it out."""

    words: str
    fields: tuple[tuple[str, str], ...]
    rescue: Callable[[Sheet, Told], Rescue]


def _wort(sheet: Sheet, told: Told) -> Rescue:
    found_sg = hydrometer_corrected(told.gravity_sg, told.sample_c)
    return wort_before_the_boil(sheet, cold_litres(told.litres, told.litres_c), found_sg)


TROUBLES: dict[str, Trouble] = {
    "mash-missed": Trouble(
        words="The mash landed hot or cold",
        fields=(("found_c", "The stirred mash, in °C"),),
        rescue=lambda sheet, told: missed_dough_in(sheet, told.found_c),
    ),
    "stuck": Trouble(
        words="No wort runs through the grain",
        fields=(),
        rescue=lambda sheet, _told: stuck_mash(sheet),
    ),
    "wort": Trouble(
        words="Litres or gravity before the boil are off",
        fields=(
            ("litres", "Litres on the scale"),
            ("litres_c", "Of that wort, in °C"),
            ("gravity_sg", "Hydrometer, such as 1.048"),
            ("sample_c", "Of its sample, in °C"),
        ),
        rescue=_wort,
    ),
    "late-hop": Trouble(
        words="A hop goes in late",
        fields=(("hop", "Which hop"), ("left_min", "Minutes left when it goes in")),
        rescue=lambda sheet, told: late_hop(sheet, told.hop, told.left_min),
    ),
    "boil-over": Trouble(
        words="Wort went over the rim",
        fields=(("lost_l", "Litres lost, about"), ("left_min", "Minutes left then")),
        rescue=lambda sheet, told: boiled_over(sheet, told.lost_l, told.left_min),
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Advised:
    """A rescue in sentences."""

    found: str
    mends: tuple[str, ...]
    unmended: str


def advised(trouble: str, given: Mapping[str, str], recipe: Recipe, plan: Plan) -> Advised:
    """What mends it. Raises KeyError for no trouble of ours, ValueError where the figures make no sense."""
    row = TROUBLES[trouble]
    asked = {name: given.get(name, "") for name, _ in row.fields}
    told = Told.model_validate(asked)
    found = row.rescue(sheet_of_plan(recipe, plan), told)
    return Advised(
        found=rescue_words(found.found),
        mends=tuple(rescue_words(mend) for mend in found.mends),
        unmended=rescue_words(found.unmended),
    )
