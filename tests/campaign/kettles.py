"""The kettles of the campaign: the examples, and drawn ones whose owners believe other figures than are true."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from kettlebridge.core.validation import misfits
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.kettle import HeaterDrive, Kettle, Probe, ProbeRole
from kettlebridge.model.plan import (
    Addition,
    AdditionKind,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    HeatStep,
    Plan,
    Profile,
    RestStep,
    Water,
)
from kettlebridge.model.reading import BoardInput
from kettlebridge.simulated.family.draw import drawn
from kettlebridge.simulated.kettle import body_of
from kettlesim.plant.body import Body

FAMILY_SEED = 4
EXAMPLES = (("thimble", "quillet_bitter"), ("saddle", "corvane_wheat"), ("ferryman", "long_crossing_porter"))
BOIL_OFF_PER_H = 0.08
"""Of the capacity, as in the example kettles. The family's own 1 L/h is a filler for days without a boil."""
ALL_INPUTS = BoardInput.LEVEL | BoardInput.FLOW | BoardInput.FOAM | BoardInput.CUTOUT | BoardInput.STOP


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """One kettle as it is, and what its owner brews in it, believing the plan's figures."""

    name: str
    body: Body
    plan: Plan


def examples() -> tuple[Subject, ...]:
    """Each example kettle with a day that fits it."""
    config = config_folder()
    subjects = []
    for kettle_name, profile_name in EXAMPLES:
        kettle = load_kettle(config / "kettles" / f"{kettle_name}.toml").kettle
        plan = Plan(kettle=kettle, profile=load_profile(config / "profiles" / f"{profile_name}.toml"))
        subjects.append(Subject(name=kettle_name, body=body_of(kettle), plan=plan))
    return tuple(subjects)


def drawn_subjects(count: int) -> tuple[Subject, ...]:
    """As many drawn ones; every third without a pump, every other with inputs and a second probe in the place."""
    subjects: list[Subject] = []
    number = 0
    while len(subjects) < count:
        subject = _drawn(number)
        if not misfits(subject.plan.kettle, subject.plan.profile):
            subjects.append(subject)
        number += 1
    return tuple(subjects)


def _drawn(number: int) -> Subject:
    member = drawn(number, FAMILY_SEED)
    fitted = number % 2 == 0
    twin = Probe(name=ProbeName("twin"), source="twin", role=ProbeRole.SAME_PLACE)
    kettle = replace(
        member.kettle,
        has_main_contactor=True,
        boil_off_l_per_h=BOIL_OFF_PER_H * member.kettle.capacity_l,
        has_pump=number % 3 != 1,
        inputs=ALL_INPUTS if fitted else BoardInput.NONE,
        probes=(*member.kettle.probes, twin) if fitted else member.kettle.probes,
    )
    profile = short_day(kettle, member.litres_believed, member.grain_kg, member.strike_c)
    ssr = "SSR" if kettle.drive is HeaterDrive.SSR else "contactor"
    size = f"{kettle.capacity_l:.0f} L, {kettle.heater_w / 1000:.1f} kW"
    name = f"drawn {number}: {size}, {ssr}, boils at {kettle.boil_c:.1f} °C"
    return Subject(name=name, body=member.body, plan=Plan(kettle=kettle, profile=profile))


def short_day(kettle: Kettle, litres: float, grain_kg: float, strike_c: float) -> Profile:
    """Everything that a brew day has, in a third of its time."""
    pump_after_min = 5.0 if kettle.has_pump else None
    hops = Addition(name="hops", kind=AdditionKind.HOPS, grams=1.5 * litres, before_end_min=12.0)
    return Profile(
        name="campaign day",
        water=Water(fill_l=litres, sparge_l=0.2 * litres, grain_kg=grain_kg),
        steps=(
            AskStep(name="fill", what=AskKind.FILL),
            HeatStep(name="strike", to_c=strike_c),
            AskStep(name="dough in", what=AskKind.DOUGH_IN),
            RestStep(name="rest", at_c=66.0, for_min=25.0, pump_after_min=pump_after_min),
            RestStep(
                name="second rest", at_c=72.0, for_min=8.0, pump_after_min=None if pump_after_min is None else 0.0
            ),
            AskStep(name="lift", what=AskKind.LIFT),
            AskStep(name="sparge", what=AskKind.SPARGE, keep_c=75.0),
            AskStep(name="drain", what=AskKind.DRAIN),
            AskStep(name="basket away", what=AskKind.BASKET_AWAY),
            BoilStep(name="boil", for_min=15.0, additions=(hops,)),
            ChillStep(name="chill", to_c=25.0, water_c=14.0),
            AskStep(name="empty", what=AskKind.EMPTY),
        ),
    )


def seeded(subject: Subject, seed: int) -> random.Random:
    """Chance of its own for a subject's day."""
    return random.Random(f"{subject.name}/{seed}")  # noqa: S311  # habits, not secrets
