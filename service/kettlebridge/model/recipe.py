"""A recipe: what a beer is made of, for one volume of it, whatever kettle it is brewed in."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from kettlebridge.model.plan import AdditionKind


class FermentableKind(Enum):
    """What gives extract. MASHED lists the kinds that must be mashed; the others dissolve in the boil."""

    GRAIN = "grain"
    ADJUNCT = "adjunct"
    EXTRACT = "extract"
    DRY_EXTRACT = "dry_extract"
    SUGAR = "sugar"


MASHED = frozenset({FermentableKind.GRAIN, FermentableKind.ADJUNCT})


class HopUse(Enum):
    """Where hops go."""

    MASH = "mash"
    FIRST_WORT = "first_wort"
    BOIL = "boil"
    STAND = "stand"
    DRY = "dry"


class AdditionUse(Enum):
    """Where anything else goes."""

    MASH = "mash"
    BOIL = "boil"
    STAND = "stand"
    FERMENTER = "fermenter"
    PACKAGE = "package"


class YeastKind(Enum):
    """How much yeast a wort wants follows from it: lager twice as much as ale."""

    ALE = "ale"
    LAGER = "lager"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fermentable:
    """`yield_fraction`: fine-grind extract of its dry matter. `before_end_min` is None for what is mashed."""

    name: str
    kind: FermentableKind
    kg: float
    yield_fraction: float
    moisture_fraction: float
    colour_ebc: float
    before_end_min: float | None = None

    @property
    def extract_kg(self) -> float:
        """All the extract that is in it."""
        return self.kg * (1.0 - self.moisture_fraction) * self.yield_fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Hop:
    """`before_end_min`: before the end of the boil or the stand; None elsewhere."""

    name: str
    grams: float
    alpha_fraction: float
    use: HopUse
    before_end_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherAddition:
    """Finings, nutrient, spice, salts. `before_end_min`: before the end of the boil or the stand; None elsewhere."""

    name: str
    kind: AdditionKind
    grams: float
    use: AdditionUse
    before_end_min: float | None = None


class Way(Enum):
    """How a mash gets to a rest from the one before it."""

    HEAT = "heat"
    INFUSION = "infusion"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """One temperature of the mash; to the first the strike water brings it, whatever `by` says."""

    name: str
    at_c: float
    for_min: float
    by: Way = Way.HEAT


@dataclass(frozen=True, slots=True, kw_only=True)
class Mash:
    """`water_l_per_kg`: wished for at dough-in, as far as the kettle holds it. `infusion_c`: of water poured in later.

    `sparges` False: all the water meets the grain, and none is kept for rinsing.
    """

    rests: tuple[Rest, ...]
    water_l_per_kg: float
    sparges: bool
    sparge_c: float
    infusion_c: float = 95.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """Hops steeping below the boil."""

    at_c: float
    for_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Yeast:
    """`cells_billion`: what is pitched into the recipe's own volume; None: not said."""

    name: str
    kind: YeastKind
    attenuation_fraction: float
    pitch_c: float
    cells_billion: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """What its author says comes of it; compared with what is worked out."""

    original_sg: float | None = None
    final_sg: float | None = None
    bitterness_ibu: float | None = None
    colour_ebc: float | None = None
    carbonation_volumes: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """For `batch_l` litres into the fermenter, at 20 °C.

    `efficiency_fraction`: of the extract in what is mashed, the share that is in the kettle before the boil.
    """

    name: str
    style: str
    notes: str
    batch_l: float
    efficiency_fraction: float
    fermentables: tuple[Fermentable, ...]
    hops: tuple[Hop, ...]
    additions: tuple[OtherAddition, ...]
    mash: Mash | None
    boil_min: float
    stand: Stand | None
    yeast: Yeast
    targets: Targets

    @property
    def mashed(self) -> tuple[Fermentable, ...]:
        """What goes into the basket."""
        return tuple(each for each in self.fermentables if each.kind in MASHED)

    @property
    def dissolved(self) -> tuple[Fermentable, ...]:
        """What goes into the boil."""
        return tuple(each for each in self.fermentables if each.kind not in MASHED)
