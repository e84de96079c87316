"""A profile: the executable list of steps, and the plan of one batch. Immutable; changes are amendments in state."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from kettlebridge.model.alarm import AlarmRecord
from kettlebridge.model.kettle import ChillWay, Kettle
from kettlebridge.model.learnt import Learnt


class StepKind(Enum):
    """`do` of a `[[step]]`."""

    HEAT = "heat"
    ASK = "ask"
    REST = "rest"
    BOIL = "boil"
    HOP_STAND = "hop_stand"
    CIRCULATE = "circulate"
    CHILL = "chill"


class AskKind(Enum):
    """`what` of an ask. ASK_ROWS says what each implies."""

    FILL = "fill"
    DOUGH_IN = "dough_in"
    STIR = "stir"
    INFUSE = "infuse"
    LIFT = "lift"
    SPARGE = "sparge"
    DRAIN = "drain"
    BASKET_AWAY = "basket_away"
    PITCH = "pitch"
    EMPTY = "empty"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class AskRow:
    """`hands_in`: heater, pump and main contactor stay off, and come back only on a separate confirmation.

    `keep_max_c`: the warmest that `keep_c` may hold the liquid at meanwhile (None: the heater stays off).
    `at_kettle`: only the kettle's button or the code posted there confirms it, because hands are or were in danger.
    `exchanged`: the liquid comes or goes as a whole, so what the probe reads meanwhile says nothing of the heater.
    """

    hands_in: bool = False
    at_kettle: bool = False
    keep_max_c: float | None = None
    exchanged: bool = False


SPARGE_MAX_C = 78.0
"""Above it sparging dissolves starch that is converted no more: alpha-amylase is gone at 80 °C (Kunze, as quoted)."""

USUAL_SPARGE_C = 75.0
"""Where nobody says otherwise (common practice, no source)."""

HEAT_MAX_C = 90.0
"""The hottest that a heat step goes: above it only a boil, a stand and a circulation are heated."""

STAND_MAX_C = 98.0
"""The hottest that a stand or a circulation is held at: what boils has a step of its own, with somebody there."""

COLDEST_GRAIN_C, HOTTEST_GRAIN_C = -15.0, 45.0
"""Grain in an unheated shed, and in the sun; anything else is a slip of the pen (common practice, no source)."""

MASH_MAX_C = 80.0
"""Alpha-amylase is gone above it (Kunze, as quoted), and the pump may not run on hotter wort in a mash."""

ASK_ROWS: dict[AskKind, AskRow] = {
    AskKind.FILL: AskRow(exchanged=True),
    AskKind.DOUGH_IN: AskRow(hands_in=True, at_kettle=True),
    AskKind.STIR: AskRow(hands_in=True, at_kettle=True),
    AskKind.INFUSE: AskRow(hands_in=True, at_kettle=True),
    AskKind.LIFT: AskRow(hands_in=True, at_kettle=True),
    AskKind.SPARGE: AskRow(keep_max_c=SPARGE_MAX_C),
    AskKind.DRAIN: AskRow(keep_max_c=SPARGE_MAX_C),
    AskKind.BASKET_AWAY: AskRow(at_kettle=True),
    AskKind.PITCH: AskRow(exchanged=True),
    AskKind.EMPTY: AskRow(exchanged=True),
    AskKind.OTHER: AskRow(),
}


class AdditionKind(Enum):
    """What an addition is. SUGAR sinks: the heater stays off until it is confirmed dissolved."""

    HOPS = "hops"
    SUGAR = "sugar"
    FINING = "fining"
    NUTRIENT = "nutrient"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Addition:
    """`before_end_min`: minutes before the end of its step, as the trade counts hops.

    `alpha_percent` is a hop's alpha acid, `extract_percent` what of a sugar dissolves as extract; None: not known.
    """

    name: str
    kind: AdditionKind
    grams: float
    before_end_min: float
    alpha_percent: float | None = None
    extract_percent: float | None = None

    @property
    def sinks(self) -> bool:
        """Whether it lies on the element and scorches until dissolved."""
        return self.kind is AdditionKind.SUGAR


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What all steps have: `name` is the brewer's own, shown as it is."""

    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatStep(Step):
    """Bring to `to_c`. `ready` marks the step that the plan's `ready_at_utc_s` is meant for."""

    kind: StepKind = StepKind.HEAT
    to_c: float
    ready: bool = False
    pump: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AskStep(Step):
    """Ask for hands. `litres`: to fill, to infuse or to sparge; `water_c` of an infusion.

    `keep_c`: hold the liquid meanwhile, where ASK_ROWS allows.
    """

    kind: StepKind = StepKind.ASK
    what: AskKind
    text: str = ""
    litres: float | None = None
    keep_c: float | None = None
    water_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RestStep(Step):
    """Ramp to `at_c`, hold `for_min`. `pump_after_min` from the step's begin; None: no recirculation."""

    kind: StepKind = StepKind.REST
    at_c: float
    for_min: float
    pump_after_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilStep(Step):
    """Boil `for_min` from the detected boil. `sanitise_last_min`: boiling wort through the chiller at the end."""

    kind: StepKind = StepKind.BOIL
    for_min: float
    boil_off_l_per_h: float | None = None
    additions: tuple[Addition, ...] = ()
    sanitise_last_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HopStandStep(Step):
    """Stand below the boil at `at_c` for `for_min`, with the pump as asked."""

    kind: StepKind = StepKind.HOP_STAND
    at_c: float
    for_min: float
    pump: bool = False
    additions: tuple[Addition, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CirculateStep(Step):
    """Cleaning and rinsing: `at_c` for `for_min`, pump on."""

    kind: StepKind = StepKind.CIRCULATE
    at_c: float
    for_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChillStep(Step):
    """Chill to `to_c` with cooling water of `water_c`; `way` None: the kettle's own."""

    kind: StepKind = StepKind.CHILL
    way: ChillWay | None = None
    to_c: float
    water_c: float


AnyStep = HeatStep | AskStep | RestStep | BoilStep | HopStandStep | CirculateStep | ChillStep


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Litres at 20 °C and the grain they meet; `grain_kg` 0 for a day without mash.

    `grain_c`: of the grain that the strike temperature was worked out for, None: not known. `sparge_pot_w`: what heats
    the sparge water to `sparge_c`, None: nobody is called for it.
    """

    fill_l: float
    sparge_l: float = 0.0
    grain_kg: float = 0.0
    grain_c: float | None = None
    sparge_pot_w: float | None = None
    sparge_c: float = USUAL_SPARGE_C


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What the day is to come to, at 20 °C: what was measured on it is judged by this.

    `efficiency_percent` as a recipe means it, `attenuation_percent` the yeast's. `first_wort_alpha_grams`: alpha acid
    in hops that lie in the kettle before the boil, `hops_keep_l` wort that all hops keep. In the units of the file,
    rounded once: they read back as they are.
    """

    original_sg: float
    fermenter_l: float
    efficiency_percent: float
    attenuation_percent: float
    bitterness_ibu: float
    first_wort_alpha_grams: float = 0.0
    hops_keep_l: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """`ready_at` is local time "HH:MM" as written; the plan holds what it was resolved to."""

    name: str
    water: Water
    steps: tuple[AnyStep, ...]
    ready_at: str | None = None
    aim: Aim | None = None

    @property
    def infused_l(self) -> float:
        """Hot water poured into the mash after dough-in."""
        litres = 0.0
        for step in self.steps:
            litres += (step.litres or 0.0) if isinstance(step, AskStep) and step.what is AskKind.INFUSE else 0.0
        return litres


NOTHING_CHOSEN = Profile(name="", water=Water(fill_l=0.0), steps=())
"""What a kettle has before anything was chosen: no step, so nothing can be begun. No file can name it."""

NOT_JUDGED = "arm_file_not_judged"
"""A plan from before it was asked, or one that no kettle file stands behind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """All that a batch was started with; `learnt` from the kettle's earlier heat-ups, None for a new one.

    `against_arming`: what in the kettle's file speaks against heating with nobody there, as reasons of a refusal.
    `left_over`: safety alarms of the kettle's batch before that nobody at the kettle has reset.
    """

    kettle: Kettle
    profile: Profile
    ready_at_utc_s: float | None = None
    learnt: Learnt | None = None
    against_arming: tuple[str, ...] = (NOT_JUDGED,)
    left_over: tuple[AlarmRecord, ...] = ()
