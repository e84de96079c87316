"""One vessel as its kettle file describes it: nameplate figures, what is wired to it, and its limits."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from kettlebridge.model.ids import KettleId, ProbeName
from kettlebridge.model.reading import BoardInput


class ProbeRole(Enum):
    """Where a probe sits and what it is for. `CONTROL` is the one that the regulator follows."""

    CONTROL = "control"
    RETURN = "return"
    SAME_PLACE = "same_place"
    AMBIENT = "ambient"
    CHILLER_OUT = "chiller_out"
    FERMENTER = "fermenter"
    SPARGE = "sparge"


class HeaterDrive(Enum):
    """What switches the element. An SSR takes a burst window of 1 s, a contactor one of 10 s."""

    SSR = "ssr"
    CONTACTOR = "contactor"


class RegulatorKind(Enum):
    """PID: simple_pid, tuned by Skogestad's rule. MODEL: an observer and a feed-forward law (core.model_regulator)."""

    PID = "pid"
    MODEL = "model"


class MashTarget(Enum):
    """What a rest's temperature means while the pump runs: the grain bed's, or what the control probe reads."""

    BED = "bed"
    PROBE = "probe"


class ChillWay(Enum):
    """A coil in the kettle, or wort running through a chiller into the fermenter."""

    IN_KETTLE = "in_kettle"
    IN_LINE = "in_line"


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """`true_c = gain * read_c + offset_c`; `source` is the bridge's own name for it (a ROM id, a topic)."""

    name: ProbeName
    source: str
    role: ProbeRole
    gain: float = 1.0
    offset_c: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Safety:
    """Limits of `[safety]`. `limit_c` is the absolute limit at the control probe in every state."""

    limit_c: float
    stale_after_s: float = 3.0
    over_set_point_c: float = 5.0
    lease_s: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """The circuit a kettle hangs on; kettles that name the same circuit share `max_w`."""

    circuit: str
    max_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelMark:
    """A point of the kettle's scale: so many litres stand so high above its floor."""

    litres: float
    cm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Kettle:
    """A kettle. Litres are at 20 °C. `boil_c` is the expected boiling point at the kettle's altitude.

    `under_basket_l`: the liquid below the basket's floor, all that the heater sees in a mash.
    `grain_absorption_l_per_kg` is apparent: (water in - wort collected) / kg of grain, both at 20 °C.
    `probe_delay_s`: dead time from heater to control probe, before it is learnt.
    `marks`: the scale on its wall, rising; empty without one.
    """

    name: KettleId
    capacity_l: float
    heater_w: float
    mains_v: float
    boil_c: float
    element_cover_l: float
    under_basket_l: float
    loss_w_per_k: float
    boil_off_l_per_h: float
    dead_space_l: float
    grain_absorption_l_per_kg: float
    basket_kg: float
    probe_delay_s: float
    chill: ChillWay
    drive: HeaterDrive
    has_pump: bool
    has_main_contactor: bool
    probes: tuple[Probe, ...]
    inputs: BoardInput
    safety: Safety
    supply: Supply | None = None
    marks: tuple[LevelMark, ...] = ()
    pump_l_per_min: float = 4.0
    regulator: RegulatorKind = RegulatorKind.MODEL
    mash_target: MashTarget = MashTarget.BED
