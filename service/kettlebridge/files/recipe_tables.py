"""The tables of a recipe: their keys, ranges and meanings."""

from __future__ import annotations

from typing import Literal

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
from kettlebridge.model.plan import MASH_MAX_C, SPARGE_MAX_C, USUAL_SPARGE_C, AdditionKind
from kettlebridge.model.recipe import (
    MASHED,
    AdditionUse,
    Fermentable,
    FermentableKind,
    Hop,
    HopUse,
    Mash,
    OtherAddition,
    Rest,
    Stand,
    Targets,
    Way,
    Yeast,
    YeastKind,
)

BOIL_OR_STAND = "needed in boil and stand, refused elsewhere"
DISSOLVED_BEFORE_END_MIN = 15.0
MASHED_WORDS = " and ".join(sorted(kind.value for kind in MASHED))


class GristTable(Table):
    """`[[grist]]`: malt, adjuncts, sugars, malt extract."""

    name: Line = text(LINE_WORDS, "as it is written on the sack")
    kind: FermentableKind = choice(f"what it is; {MASHED_WORDS} are mashed, the rest dissolves in the boil")
    kg: float = number("kg", 0.005, 60, "how much")
    yield_percent: float = number("%", 1, 100, "extract of its dry matter, fine grind; a sugar has 100")
    moisture_percent: float = number("%", 0, 30, "water in it as weighed", default=4.0)
    colour_ebc: float = number("EBC", 0, 2000, "colour of the malt")
    before_end_min: float | None = number(
        "min",
        0,
        240,
        "when it goes into the boil; refused for what is mashed",
        default=None,
        default_words=f"{DISSOLVED_BEFORE_END_MIN:g} for what dissolves",
    )

    def as_fermentable(self) -> Fermentable:
        """The fermentable as the house has it."""
        before_end_min = None if self.kind in MASHED else self.before_end_min
        if self.kind not in MASHED and before_end_min is None:
            before_end_min = DISSOLVED_BEFORE_END_MIN
        return Fermentable(
            name=self.name,
            kind=self.kind,
            kg=self.kg,
            yield_fraction=self.yield_percent / 100.0,
            moisture_fraction=self.moisture_percent / 100.0,
            colour_ebc=self.colour_ebc,
            before_end_min=before_end_min,
        )


class HopTable(Table):
    """`[[hop]]`."""

    name: Line = text(LINE_WORDS, "its variety")
    grams: float = number("g", 0.1, 5000, "how much")
    alpha_percent: float = number("%", 0, 30, "alpha acid, from the bag")
    use: HopUse = choice("where it goes; hops in mash and dry hops are not counted as bitterness")
    before_end_min: float | None = number(
        "min", 0, 240, "when: before the end of boil or stand", default=None, default_words=BOIL_OR_STAND
    )

    def as_hop(self) -> Hop:
        """The hop as the house has it."""
        return Hop(
            name=self.name,
            grams=self.grams,
            alpha_fraction=self.alpha_percent / 100.0,
            use=self.use,
            before_end_min=self.before_end_min,
        )


class OtherTable(Table):
    """`[[addition]]`: anything else."""

    name: Line = text(LINE_WORDS, "what it is")
    kind: Literal["fining", "nutrient", "other"] = table("its kind")
    grams: float = number("g", 0.01, 5000, "how much")
    use: AdditionUse = choice("where it goes")
    before_end_min: float | None = number(
        "min", 0, 240, "when: before the end of boil or stand", default=None, default_words=BOIL_OR_STAND
    )

    def as_addition(self) -> OtherAddition:
        """The addition as the house has it."""
        return OtherAddition(
            name=self.name,
            kind=AdditionKind(self.kind),
            grams=self.grams,
            use=self.use,
            before_end_min=self.before_end_min,
        )


class MashRestTable(Table):
    """`[[mash.rest]]`: in rising order."""

    name: Line = text(LINE_WORDS, "what it is for", default="Rest")
    at_c: float = number("°C", 30, MASH_MAX_C, "how warm", because="above it no enzyme is left to turn starch to sugar")
    for_min: float = number("min", 1, 240, "how long at temperature")
    by: Way = choice("from the rest before: the element, or hot water poured in", default=Way.HEAT)


class MashTable(Table):
    """`[mash]`."""

    water_l_per_kg: float = number(
        "L/kg", 1.5, 12, "water to grain at dough-in, as far as the kettle holds it", default=3.5
    )
    sparges: bool = switch("rinse the lifted grain; false: all the water goes in at once", default=True)
    sparge_c: float = number("°C", 10, SPARGE_MAX_C, "the water it is rinsed with", default=USUAL_SPARGE_C)
    infusion_c: float = number("°C", 60, 100, "the water that is poured in for a rest by infusion", default=95.0)
    rest: list[MashRestTable] = table("the rests, at least one", min_length=1, max_length=12)

    def as_mash(self) -> Mash:
        """The mash as the house has it."""
        return Mash(
            rests=tuple(Rest(name=rest.name, at_c=rest.at_c, for_min=rest.for_min, by=rest.by) for rest in self.rest),
            water_l_per_kg=self.water_l_per_kg,
            sparges=self.sparges,
            sparge_c=self.sparge_c,
            infusion_c=self.infusion_c,
        )


class RecipeBoilTable(Table):
    """`[boil]`."""

    for_min: float = number("min", 1, 240, "how long")


class StandTable(Table):
    """`[stand]`: hops below the boil."""

    at_c: float = number("°C", 40, 98, "how warm")
    for_min: float = number("min", 1, 180, "how long")

    def as_stand(self) -> Stand:
        """The stand as the house has it."""
        return Stand(at_c=self.at_c, for_min=self.for_min)


class YeastTable(Table):
    """`[yeast]`."""

    name: Line = text(LINE_WORDS, "its strain")
    kind: YeastKind = choice("lager wants twice the cells of ale")
    attenuation_percent: float = number("%", 20, 100, "apparent attenuation", default=75.0)
    pitch_c: float = number("°C", 1, 40, "the wort that it goes into")
    cells_billion: float | None = number(
        "billion", 0.1, 100_000, "live cells for batch_l", default=None, default_words="not checked"
    )

    def as_yeast(self) -> Yeast:
        """The yeast as the house has it."""
        return Yeast(
            name=self.name,
            kind=self.kind,
            attenuation_fraction=self.attenuation_percent / 100.0,
            pitch_c=self.pitch_c,
            cells_billion=self.cells_billion,
        )


class TargetTable(Table):
    """`[target]`: what its author says; the sheet says where its own figures differ."""

    original_sg: float | None = number("SG", 1.0, 1.2, "gravity into the fermenter", default=None)
    final_sg: float | None = number("SG", 0.98, 1.1, "gravity when fermented", default=None)
    bitterness_ibu: float | None = number("IBU", 0, 300, "bitterness", default=None)
    colour_ebc: float | None = number("EBC", 0, 300, "colour of the beer", default=None)
    carbonation_volumes: float | None = number("volumes", 0, 6, "carbon dioxide when packaged", default=None)

    def as_targets(self) -> Targets:
        """The targets as the house has them."""
        return Targets(
            original_sg=self.original_sg,
            final_sg=self.final_sg,
            bitterness_ibu=self.bitterness_ibu,
            colour_ebc=self.colour_ebc,
            carbonation_volumes=self.carbonation_volumes,
        )


class RecipeTables(Table):
    """A recipe."""

    schema_version: SchemaOne = Field(alias="schema", description="version of this form of file")
    name: Line = text(LINE_WORDS, "what is brewed")
    style: Line | None = text(LINE_WORDS, "what kind of beer", default=None)
    notes: Paragraph = text(PARAGRAPH_WORDS, "anything else", default="")
    batch_l: float = number("L", 1, 200, "into the fermenter, for the amounts below")
    efficiency_percent: float = number(
        "%", 20, 100, "of the extract in what is mashed, the share in the kettle before the boil", default=75.0
    )
    grist: list[GristTable] = table("what gives extract, at least one", min_length=1, max_length=40)
    hop: list[HopTable] = table("hops", default=[], max_length=60)
    addition: list[OtherTable] = table("anything else", default=[], max_length=60)
    mash: MashTable | None = table("needed if anything is mashed", default=None)
    boil: RecipeBoilTable = table("the boil")
    stand: StandTable | None = table("hops below the boil", default=None)
    yeast: YeastTable = table("the yeast")
    target: TargetTable = table("what comes of it", default=TargetTable.model_construct())
