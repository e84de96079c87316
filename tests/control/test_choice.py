"""Which regulator acts, when it hands over, and that a kettle file that is far off never makes things worse."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.drive import by_model, controlled_bed_c
from kettlebridge.core.identify import FIT_AT_S
from kettlebridge.core.ledger import Grain, Ledger
from kettlebridge.core.model_regulator import THICK_CEILING_FRACTION, ceiling_fraction
from kettlebridge.core.thermal import UNKNOWN
from kettlebridge.model.event import EventCode
from kettlebridge.model.kettle import HeaterDrive, MashTarget, RegulatorKind
from kettlebridge.simulated.family.course import Course, Seen, driven, energy_bound_s
from kettlebridge.simulated.family.draw import Member, drawn
from kettlebridge.simulated.family.ours import Ours
from tests.control.synthetic import AMBIENT_C
from tests.core.bench_kettle import KETTLE, STRIKE, BenchKettle, plan_of

SEED = 4


@pytest.fixture(scope="module")
def ssr_member() -> Member:
    return next(member for n in range(40) if (member := drawn(n, SEED)).kettle.drive is HeaterDrive.SSR)


def course_of(member: Member, kind: RegulatorKind) -> tuple[Course, Ours]:
    bound_s = energy_bound_s(member)
    assert bound_s is not None
    regulator = Ours(kind, MashTarget.PROBE)
    return driven(member, bound_s, regulator), regulator


def test_the_model_acts_only_where_the_file_wants_it_and_the_figures_fit() -> None:
    bench = BenchKettle(plan_of(STRIKE), liquid_c=30.0, stage="heat")
    bench.run(30)
    thermal = bench.state.thermal
    kettle = replace(KETTLE, regulator=RegulatorKind.MODEL)
    assert by_model(kettle, thermal)
    assert not by_model(replace(KETTLE, regulator=RegulatorKind.PID), thermal)
    assert not by_model(kettle, thermal._replace(fits=False))
    assert not by_model(kettle, UNKNOWN)


def test_the_bed_is_shown_only_while_a_pump_drives_liquid_through_grain(ssr_member: Member) -> None:
    _, regulator = course_of(ssr_member, RegulatorKind.MODEL)
    thermal = regulator.thermal
    bed = replace(ssr_member.kettle, mash_target=MashTarget.BED)
    assert controlled_bed_c(bed, thermal) is not None
    assert controlled_bed_c(replace(bed, mash_target=MashTarget.PROBE), thermal) is None
    assert controlled_bed_c(bed, thermal._replace(fits=False)) is None
    assert thermal.key is not None
    still = thermal._replace(key=(thermal.key[0], Grain.IN, False, AMBIENT_C))
    assert controlled_bed_c(bed, still) is None


@pytest.mark.parametrize("wrong", [0.45, 2.5])
def test_a_heater_that_is_not_what_the_file_says_leaves_the_pid_to_it(ssr_member: Member, wrong: float) -> None:
    member = replace(ssr_member, kettle=replace(ssr_member.kettle, heater_w=wrong * ssr_member.kettle.heater_w))
    course, regulator = course_of(member, RegulatorKind.MODEL)
    fallback, _ = course_of(member, RegulatorKind.PID)
    assert not regulator.thermal.fits
    assert [event.get("verdict") for event in regulator.events if event.code is EventCode.HEAT_UP_UNFIT] == ["rate"]
    for phase in ("strike", "rest", "ramp"):
        ours, theirs = (max(second.bulk_c for second in c.phases[phase]) for c in (course, fallback))
        assert ours <= theirs + 0.05


@pytest.mark.slow
@pytest.mark.parametrize("number", [2, 8, 10])
def test_where_the_file_is_far_off_the_plain_regulator_is_no_worse_on_other_kettles(number: int) -> None:
    member = drawn(number, SEED)
    member = replace(member, kettle=replace(member.kettle, heater_w=0.4 * member.kettle.heater_w))
    course, regulator = course_of(member, RegulatorKind.MODEL)
    fallback, _ = course_of(member, RegulatorKind.PID)
    assert not regulator.thermal.fits
    assert regulator.thermal.known == regulator.thermal.prior
    assert any(event.code is EventCode.HEAT_UP_UNFIT for event in regulator.events)
    for phase in ("strike", "rest", "ramp"):
        ours, theirs = (max(second.bulk_c for second in c.phases[phase]) for c in (course, fallback))
        assert ours <= theirs + 0.1


def test_a_probe_that_hardly_follows_is_told_and_leaves_the_figures_alone(ssr_member: Member) -> None:
    """It hangs beside the kettle and feels a tenth of the rise."""
    ours = Ours(RegulatorKind.MODEL, MashTarget.PROBE)

    class Beside:
        def permille(self, seen: Seen) -> int:
            felt_c = ssr_member.water_c + 0.1 * (seen.reading_c - ssr_member.water_c)
            return ours.permille(seen._replace(reading_c=felt_c)) if seen.now_s < 1500.0 else 0

    driven(ssr_member, 600.0, Beside())
    assert any(event.code is EventCode.HEAT_UP_UNFIT for event in ours.events)
    assert not ours.thermal.fits
    assert ours.thermal.known == ours.thermal.prior


def test_from_full_power_to_the_hold_there_is_no_bump(ssr_member: Member) -> None:
    course, _ = course_of(ssr_member, RegulatorKind.MODEL)
    strike = course.phases["strike"]
    highest = max(second.bulk_c for second in strike)
    held = [second.permille for second in strike if second.now_s > 1.15 * (course.bound_s or 0.0)]
    assert highest - ssr_member.strike_c < 0.15
    assert max(held) - min(held) < 250


def test_a_thick_mash_sees_only_a_part_of_the_power() -> None:
    thick = Ledger(volume_l=14.0, grain=Grain.IN, grain_kg=5.0)
    assert ceiling_fraction(thick) == THICK_CEILING_FRACTION
    assert ceiling_fraction(thick._replace(volume_l=18.0)) == 1.0
    assert ceiling_fraction(thick._replace(grain=Grain.NONE)) == 1.0
    assert ceiling_fraction(thick._replace(volume_l=None)) == 1.0


def test_a_heat_up_that_turns_out_otherwise_half_way_is_told_once(ssr_member: Member) -> None:
    """Cold water runs in after the first fit: the later ones contradict it, as long as the heater is on."""
    ours = Ours(RegulatorKind.MODEL, MashTarget.PROBE)

    class Diluted:
        heating_s = 0.0

        def permille(self, seen: Seen) -> int:
            late_s = max(self.heating_s - FIT_AT_S[0] - 30.0, 0.0)
            permille = ours.permille(seen._replace(reading_c=seen.reading_c - 0.03 * late_s))
            self.heating_s += 1.0 if permille else 0.0
            return permille

    driven(ssr_member, 900.0, Diluted())
    codes = [event.code for event in ours.events]
    assert codes.count(EventCode.HEAT_UP_UNFIT) == 1
    assert ours.thermal.fits
