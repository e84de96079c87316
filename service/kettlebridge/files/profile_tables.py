"""The tables of a profile: their keys, ranges and meanings."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from kettlebridge.files.fields import (
    LINE_WORDS,
    PARAGRAPH_WORDS,
    Line,
    Paragraph,
    SchemaOne,
    Table,
    choice,
    number,
    switch,
    table,
    text,
)
from kettlebridge.model.kettle import ChillWay
from kettlebridge.model.plan import (
    ASK_ROWS,
    COLDEST_GRAIN_C,
    HEAT_MAX_C,
    HOTTEST_GRAIN_C,
    MASH_MAX_C,
    SPARGE_MAX_C,
    STAND_MAX_C,
    USUAL_SPARGE_C,
    Addition,
    AdditionKind,
    Aim,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    CirculateStep,
    HeatStep,
    HopStandStep,
    RestStep,
)

KEEP_WORDS = "; ".join(f"{kind.value}: 30 to {row.keep_max_c:g} °C" for kind, row in ASK_ROWS.items() if row.keep_max_c)
HOT_STEPS = "hotter only in boil, hop_stand and circulate"

NAME_HELP = "shown to the brewer"


class WaterTable(Table):
    """`[water]`: litres at 20 °C and the grain they meet."""

    fill_l: float = number("L", 1, 200, "water in the kettle when the day begins")
    sparge_l: float = number("L", 0, 100, "water poured through the lifted grain, all portions together", default=0.0)
    grain_kg: float = number("kg", 0, 60, "dry grain; 0 for a day without a mash", default=0.0)
    grain_c: float | None = number(
        "°C",
        COLDEST_GRAIN_C,
        HOTTEST_GRAIN_C,
        "of the grain that the strike temperature was worked out for; it is corrected for what is said in the morning",
        default=None,
        default_words="not known, nothing is corrected",
    )
    sparge_pot_w: float | None = number(
        "W",
        200,
        10_000,
        "what heats the sparge water in a pot of its own",
        default=None,
        default_words="not known, nobody is called to put it on",
    )
    sparge_c: float = number("°C", 10, SPARGE_MAX_C, "how hot the sparge water is to be", default=USUAL_SPARGE_C)


class AimTable(Table):
    """`[aim]`: what the day is to come to. `plan --profile` writes it; what is measured on the day is judged by it."""

    original_sg: float = number("SG", 1.0, 1.2, "gravity into the fermenter")
    fermenter_l: float = number("L", 0.1, 200, "volume into the fermenter")
    efficiency_percent: float = number("%", 1, 100, "of the extract in what is mashed, the share before the boil")
    attenuation_percent: float = number("%", 1, 100, "apparent attenuation of the yeast")
    bitterness_ibu: float = number("IBU", 0, 5000, "bitterness")
    first_wort_alpha_grams: float = number("g", 0, 5000, "alpha acid in hops that are in before the boil", default=0.0)
    hops_keep_l: float = number("L", 0, 200, "wort that the hops keep", default=0.0)

    def as_aim(self) -> Aim:
        """The aim as the house has it."""
        return Aim(
            original_sg=self.original_sg,
            fermenter_l=self.fermenter_l,
            efficiency_percent=self.efficiency_percent,
            attenuation_percent=self.attenuation_percent,
            bitterness_ibu=self.bitterness_ibu,
            first_wort_alpha_grams=self.first_wort_alpha_grams,
            hops_keep_l=self.hops_keep_l,
        )


class AdditionTable(Table):
    """`[[step.addition]]`: what goes in during a boil or a hop stand."""

    name: Line = text(LINE_WORDS, NAME_HELP)
    kind: AdditionKind = choice("what it is; sugar sinks, so the heater is off until it is dissolved")
    grams: float = number("g", 0.1, 20_000, "how much")
    before_end_min: float = number("min", 0, 240, "when: this long before the end of its step")
    alpha_percent: float | None = number(
        "%", 0, 30, "alpha acid of hops", default=None, default_words="not known, no bitterness is reckoned"
    )
    extract_percent: float | None = number(
        "%", 1, 100, "of a sugar, what dissolves as extract", default=None, default_words="all of it"
    )

    def as_addition(self) -> Addition:
        """The addition as the house has it."""
        return Addition(
            name=self.name,
            kind=self.kind,
            grams=self.grams,
            before_end_min=self.before_end_min,
            alpha_percent=self.alpha_percent,
            extract_percent=self.extract_percent,
        )


def _additions(tables: list[AdditionTable]) -> tuple[Addition, ...]:
    return tuple(table.as_addition() for table in tables)


class HeatTable(Table):
    """`do = "heat"`: bring to a temperature."""

    do: Literal["heat"] = table("bring to a temperature, as late as ready_at allows")
    name: Line = text(LINE_WORDS, NAME_HELP, default="Heat")
    to_c: float = number("°C", 20, HEAT_MAX_C, "how warm", because=HOT_STEPS)
    pump: bool = switch("the pump runs meanwhile", default=False)

    def as_step(self) -> HeatStep:
        """The step as the house has it."""
        return HeatStep(name=self.name, to_c=self.to_c, pump=self.pump)


class AskTable(Table):
    """`do = "ask"`: ask for hands, and wait for them."""

    do: Literal["ask"] = table("ask for hands, and wait until they confirm")
    name: Line | None = text(LINE_WORDS, NAME_HELP, default=None, default_words="named after what")
    what: AskKind = choice("what hands are to do")
    text: Paragraph = text(PARAGRAPH_WORDS, "more for the brewer to read; an ask for other needs it", default="")
    litres: float | None = number(
        "L",
        0.1,
        200,
        "water to fill, to infuse or to sparge with",
        default=None,
        default_words="from [water], for the first fill and the only sparge",
    )
    keep_c: float | None = number(
        "°C", 30, 100, "hold the liquid at this meanwhile", default=None, default_words="heater off", allowed=KEEP_WORDS
    )

    water_c: float | None = number(
        "°C", 30, 100, "the water of an infusion", default=None, default_words="needed in infuse, refused elsewhere"
    )

    def as_step(self) -> AskStep:
        """The step as the house has it."""
        return AskStep(
            name=self.name or self.what.value.replace("_", " ").capitalize(),
            what=self.what,
            text=self.text,
            litres=self.litres,
            keep_c=self.keep_c,
            water_c=self.water_c,
        )


class RestTable(Table):
    """`do = "rest"`: hold the mash at a temperature."""

    do: Literal["rest"] = table("ramp to a temperature and hold the mash there")
    name: Line = text(LINE_WORDS, NAME_HELP, default="Rest")
    at_c: float = number("°C", 30, MASH_MAX_C, "how warm", because="above it no enzyme is left to turn starch to sugar")
    for_min: float = number("min", 1, 240, "how long at temperature")
    pump_after_min: float | None = number(
        "min",
        0,
        240,
        "recirculation starts so long after the step begins",
        default=None,
        default_words="no recirculation",
    )

    def as_step(self) -> RestStep:
        """The step as the house has it."""
        return RestStep(name=self.name, at_c=self.at_c, for_min=self.for_min, pump_after_min=self.pump_after_min)


class BoilTable(Table):
    """`do = "boil"`: boil, with additions."""

    do: Literal["boil"] = table("climb, pass the hot break, boil")
    name: Line = text(LINE_WORDS, NAME_HELP, default="Boil")
    for_min: float = number("min", 1, 240, "how long, from the moment it boils")
    boil_off_l_per_h: float | None = number("L/h", 0.2, 30, "how hard", default=None, default_words="the kettle's own")
    sanitise_last_min: float | None = number(
        "min",
        1,
        60,
        "so long at the end boiling wort runs through the chiller",
        default=None,
        default_words="not at all",
    )
    addition: list[AdditionTable] = table("what goes in", default=[], max_length=60)

    def as_step(self) -> BoilStep:
        """The step as the house has it."""
        return BoilStep(
            name=self.name,
            for_min=self.for_min,
            boil_off_l_per_h=self.boil_off_l_per_h,
            additions=_additions(self.addition),
            sanitise_last_min=self.sanitise_last_min,
        )


class HopStandTable(Table):
    """`do = "hop_stand"`: steep hops below the boil."""

    do: Literal["hop_stand"] = table("stand below the boil")
    name: Line = text(LINE_WORDS, NAME_HELP, default="Hop stand")
    at_c: float = number("°C", 40, STAND_MAX_C, "how warm")
    for_min: float = number("min", 1, 180, "how long at temperature")
    pump: bool = switch("the pump runs meanwhile", default=False)
    addition: list[AdditionTable] = table("what goes in", default=[], max_length=60)

    def as_step(self) -> HopStandStep:
        """The step as the house has it."""
        return HopStandStep(
            name=self.name, at_c=self.at_c, for_min=self.for_min, pump=self.pump, additions=_additions(self.addition)
        )


class CirculateTable(Table):
    """`do = "circulate"`: clean or rinse with the pump on."""

    do: Literal["circulate"] = table("pump hot water or cleaner round")
    name: Line = text(LINE_WORDS, NAME_HELP, default="Circulate")
    at_c: float = number("°C", 20, STAND_MAX_C, "how warm")
    for_min: float = number("min", 1, 180, "how long at temperature")

    def as_step(self) -> CirculateStep:
        """The step as the house has it."""
        return CirculateStep(name=self.name, at_c=self.at_c, for_min=self.for_min)


class ChillTable(Table):
    """`do = "chill"`: cool with tap water."""

    do: Literal["chill"] = table("cool, with the heater locked out")
    name: Line = text(LINE_WORDS, NAME_HELP, default="Chill")
    way: ChillWay | None = choice(
        "a coil in the kettle, or on the way to the fermenter", default=None, default_words="the kettle's own"
    )
    to_c: float = number("°C", 1, 90, "how cold")
    water_c: float = number("°C", 0, 35, "the cooling water")

    def as_step(self) -> ChillStep:
        """The step as the house has it."""
        return ChillStep(name=self.name, way=self.way, to_c=self.to_c, water_c=self.water_c)


AnyStepTable = Annotated[
    HeatTable | AskTable | RestTable | BoilTable | HopStandTable | CirculateTable | ChillTable,
    Field(discriminator="do"),
]


class ProfileTables(Table):
    """A profile."""

    schema_version: SchemaOne = Field(alias="schema", description="version of this form of file")
    name: Line = text(LINE_WORDS, "what is brewed")
    ready_at: str | None = text(
        '"HH:MM", local time, 00:00 to 23:59',
        "when the first heat step is to be done",
        default=None,
        default_words="as soon as it is started",
        pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$",
    )
    water: WaterTable = table("litres and grain")
    aim: AimTable | None = table("what it is to come to", default=None)
    step: list[AnyStepTable] = table("the steps in their order, at least one", min_length=1, max_length=100)
