"""Each figure of the heat watch, one second at a time, worked out by hand: 3 kW and 20 L give 0.036 °C/s."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from kettlebridge.core.heat_watch import Heating, HeatWatch, followed, open_surface_w
from kettlebridge.core.ledger import Grain, Ledger
from tests.core.bench_kettle import KETTLE

TWENTY = replace(KETTLE, heater_w=3000.0, loss_w_per_k=5.0, under_basket_l=5.0, probe_delay_s=25.0, boil_c=100.0)
FULL_C_PER_S = 3000.0 / (4186.0 * 20.0)
CALM = Heating(
    kettle=TWENTY,
    ledger=Ledger(volume_l=20.0, claimed_s=0.0),
    control_c=50.0,
    ambient_c=20.0,
    applied_fraction=0.0,
    recent_fraction=0.0,
    told_off=False,
    moved=False,
    still_s=1000.0,
    falling=False,
    running=True,
    boils=False,
    target_c=66.0,
    stage_begun_s=0.0,
    now_s=1000.0,
    dt_s=1.0,
)
FULL = CALM._replace(applied_fraction=1.0, recent_fraction=1.0)
HOT = HeatWatch(last_c=50.0, lag1=1.0, lag2=1.0, left_j=1e6)


def risen(by_c: float, before: HeatWatch = HOT, here: Heating = FULL, **changes: Any) -> HeatWatch:
    """The watch after a second in which the probe rose by that much."""
    here = here._replace(**{"control_c": (before.last_c or 0.0) + by_c, **changes})
    return followed(before, here)


def lost_w(liquid_c: float) -> float:
    return 5.0 * (liquid_c - 20.0) + open_surface_w(TWENTY, liquid_c)


class TestMoreThanFullPowerExplains:
    """`fast_c`."""

    def test_is_what_goes_beyond_1_45_times_the_nameplate(self) -> None:
        assert risen(0.1).fast_c == pytest.approx(0.1 - 1.45 * FULL_C_PER_S)
        assert risen(1.4 * FULL_C_PER_S).fast_c == 0.0

    def test_of_the_litres_under_the_basket_in_a_mash(self) -> None:
        mash = Ledger(volume_l=20.0, grain=Grain.IN, grain_kg=4.0)
        assert risen(0.3, ledger=mash).fast_c == pytest.approx(0.3 - 1.45 * 3000.0 / (4186.0 * 5.0))

    def test_waits_a_minute_after_liquid_moved_and_three_with_grain(self) -> None:
        mash = Ledger(volume_l=20.0, grain=Grain.IN, grain_kg=4.0)
        assert risen(1.0, still_s=59.0).fast_c == 0.0
        assert risen(1.0, still_s=60.0).fast_c > 0.0
        assert risen(1.0, still_s=179.0, ledger=mash).fast_c == 0.0
        assert risen(1.0, still_s=180.0, ledger=mash).fast_c > 0.0

    def test_begins_at_half_of_full_power(self) -> None:
        assert risen(0.1, recent_fraction=0.5).fast_c > 0.0
        below = risen(0.1, recent_fraction=0.49)
        assert (below.fast_c, below.stray_c > 0.0) == (0.0, True)


class TestWhatNoHeaterWasToldToMake:
    """`stray_c`."""

    def test_is_every_rise_of_warm_liquid_with_the_heater_off(self) -> None:
        assert risen(0.05, here=CALM).stray_c == pytest.approx(0.05)

    def test_counts_a_third_in_a_mash(self) -> None:
        mash = Ledger(volume_l=20.0, grain=Grain.IN, grain_kg=4.0)
        assert risen(0.06, here=CALM, ledger=mash).stray_c == pytest.approx(0.02)

    def test_leaves_out_what_a_room_of_32_degrees_gives_cold_water_at_twice_the_files_loss(self) -> None:
        cold = HOT._replace(last_c=12.0, lag1=0.0, lag2=0.0)
        room_c_per_s = 2.0 * 5.0 * (32.0 - 12.01) / (4186.0 * 20.0)
        assert risen(0.01, cold, CALM).stray_c == pytest.approx(0.01 - room_c_per_s)
        assert risen(0.01, cold, CALM, ambient_c=40.0).stray_c < risen(0.01, cold, CALM).stray_c

    def test_expects_a_boil_that_was_told_off_to_fall_by_a_third_of_its_losses(self) -> None:
        boiling = HOT._replace(last_c=97.0, open_since_s=990.0)
        falls_c_per_s = 0.3 * 5.0 * (97.0 - 20.0) / (4186.0 * 20.0)
        assert risen(0.0, boiling, CALM, told_off=True).stray_c == pytest.approx(falls_c_per_s)
        assert risen(0.0, boiling._replace(last_c=95.9), CALM, told_off=True).stray_c == 0.0

    def test_is_asked_anew_two_minutes_after_all_was_told_off(self) -> None:
        told_off = CALM._replace(told_off=True)
        before = HOT._replace(stray_c=1.0, open_since_s=880.5)
        assert risen(0.05, before, told_off, now_s=1000.0).stray_c == pytest.approx(1.05)
        assert risen(0.05, before, told_off, now_s=1001.0).stray_c == 0.0
        assert risen(0.05, before._replace(stray_c=0.0), told_off, now_s=1002.0).stray_c == pytest.approx(0.05)


class TestAProbeThatIsPutBackWhileTheDayStandsStill:
    """`put_back_s`."""

    PAUSED = CALM._replace(running=False, told_off=True)
    MASH = Ledger(volume_l=20.0, grain=Grain.IN, grain_kg=4.0)

    @pytest.mark.parametrize("sign", [1.0, -1.0])
    def test_moves_by_a_degree_in_a_second_more_than_full_power_could(self, sign: float) -> None:
        full_c = 1.45 * FULL_C_PER_S
        assert risen(sign * (1.01 + full_c), here=self.PAUSED).put_back_s == 1000.0
        assert risen(sign * (0.99 + full_c), here=self.PAUSED).put_back_s == -math.inf
        assert risen(1.01 + 4.0 * full_c, here=self.PAUSED, ledger=self.MASH).put_back_s == 1000.0
        assert risen(0.99 + 4.0 * full_c, here=self.PAUSED, ledger=self.MASH).put_back_s == -math.inf

    def test_is_not_looked_for_in_a_day_that_runs_or_may_heat(self) -> None:
        assert risen(20.0, here=self.PAUSED, running=True).put_back_s == -math.inf
        assert risen(20.0, here=self.PAUSED, told_off=False).put_back_s == -math.inf

    def test_may_not_have_been_heard_before(self) -> None:
        assert followed(HeatWatch(), self.PAUSED).put_back_s == 1000.0
        assert followed(HeatWatch(), CALM).put_back_s == -math.inf

    def test_is_given_as_long_to_settle_as_moved_liquid(self) -> None:
        put_back = HOT._replace(put_back_s=941.0)
        assert risen(0.05, put_back, self.PAUSED).stray_c == 0.0
        assert risen(0.05, put_back, self.PAUSED, now_s=1001.0).stray_c == pytest.approx(0.05)
        assert risen(0.06, put_back, self.PAUSED, ledger=self.MASH, now_s=1120.0).stray_c == 0.0
        assert risen(0.06, put_back, self.PAUSED, ledger=self.MASH, now_s=1121.0).stray_c == pytest.approx(0.02)


class TestARiseThatIsMissing:
    """`lack_c`."""

    def test_is_what_it_stays_below_two_fifths_of_the_expected(self) -> None:
        net = 1.0 - lost_w(50.0) / 3000.0
        assert risen(0.0).lack_c == pytest.approx(0.4 * net * FULL_C_PER_S)
        assert risen(0.4 * FULL_C_PER_S).lack_c == 0.0

    @pytest.mark.parametrize(
        ("before", "changes"),
        [
            (HOT._replace(lag1=0.55, lag2=0.55), {"applied_fraction": 0.55}),
            (HOT, {"target_c": 50.9}),
            (HOT, {"falling": True}),
            (HOT, {"still_s": 59.0}),
            (HOT, {"running": False}),
            (HOT._replace(last_c=96.5), {"boils": True, "target_c": None}),
        ],
        ids=["little power is left", "it arrives", "it fell", "liquid moved", "paused", "it boils"],
    )
    def test_says_nothing_when(self, before: HeatWatch, changes: dict[str, Any]) -> None:
        assert risen(0.0, before, FULL, **changes).lack_c == 0.0

    @pytest.mark.parametrize(
        ("before", "changes"),
        [
            (HOT._replace(lag1=0.8, lag2=0.8), {"applied_fraction": 0.8}),
            (HOT, {"target_c": 51.1}),
            (HOT._replace(last_c=95.5), {"boils": True, "target_c": None}),
        ],
        ids=["enough power is left", "it is not there yet", "it is not near the boil"],
    )
    def test_is_counted_just_before(self, before: HeatWatch, changes: dict[str, Any]) -> None:
        assert risen(0.0, before, FULL, **changes).lack_c > 0.0

    def test_follows_the_heater_by_the_probes_delay_and_fifteen_seconds(self) -> None:
        cold = HeatWatch(last_c=50.0)
        gain = 1.0 / (1.0 + 0.5 * (25.0 + 15.0))
        after = risen(0.0, cold)
        assert after.lag1 == pytest.approx(gain)
        assert after.lag2 == pytest.approx(gain * gain)


class TestAReadingThatRepeatsItself:
    """`same_c`."""

    def test_adds_up_what_was_expected_and_forgets_it_with_the_first_change(self) -> None:
        net = 1.0 - lost_w(50.0) / 3000.0
        once = risen(0.0)
        assert once.same_c == pytest.approx(net * FULL_C_PER_S)
        assert risen(0.0, once).same_c > once.same_c
        assert risen(0.01, once).same_c == 0.0

    def test_stays_found_once_two_degrees_were_missed(self) -> None:
        assert risen(0.0, HOT._replace(same_c=2.0)).same_c == 2.0
        assert risen(0.0, HOT._replace(same_c=1.9)).same_c > 1.9

    def test_says_nothing_of_a_boil(self) -> None:
        assert risen(0.0, HOT._replace(last_c=96.5, same_c=0.5), boils=True).same_c == 0.5


class TestWhatAStageMayTake:
    """`left_j`."""

    def test_is_seven_tenths_more_and_a_tenth_of_a_kilowatt_hour_and_two_degrees(self) -> None:
        begun = risen(0.0, HOT._replace(left_j=None))
        assert begun.left_j == pytest.approx(0.36e6 + (2.0 + 1.7 * 16.0) * 4186.0 * 20.0)

    def test_shrinks_by_the_power_and_grows_by_losses_seven_tenths_higher(self) -> None:
        assert risen(0.0).left_j == pytest.approx(1e6 - 3000.0 + 1.7 * lost_w(50.0))

    @pytest.mark.parametrize("changes", [{"moved": True}, {"stage_begun_s": 5.0}], ids=["liquid", "stage"])
    def test_begins_anew_with_other_liquid_or_another_stage(self, changes: dict[str, Any]) -> None:
        assert (risen(0.0, **changes).left_j or 0.0) > 2e6

    def test_is_nothing_where_no_target_is_held(self) -> None:
        assert risen(0.0, target_c=None).left_j is None


def test_an_open_surface_gives_2_7_kilowatts_a_square_metre_at_66_degrees_and_8_5_at_93() -> None:
    thirty = replace(KETTLE, capacity_l=30.0)
    area_m2 = 0.25 * 3.14159265 * (4 * 0.030 / (3.14159265 * 1.1)) ** (2 / 3)
    assert open_surface_w(thirty, 66.0) == pytest.approx(2700.0 * area_m2)
    assert open_surface_w(thirty, 93.0) == pytest.approx(8500.0 * area_m2, rel=0.01)


@pytest.mark.parametrize(
    "changes",
    [{"control_c": None}, {"dt_s": 0.0}, {"ledger": Ledger()}],
    ids=["no reading", "no time", "nothing is claimed"],
)
def test_without_reading_time_or_liquid_nothing_is_judged(changes: dict[str, Any]) -> None:
    before = HOT._replace(lack_c=0.5, fast_c=0.5, stray_c=0.5, same_c=1.0)
    after = followed(before, FULL._replace(**changes))
    assert (after.lack_c, after.fast_c, after.stray_c, after.same_c, after.left_j) == (0.0, 0.0, 0.0, 0.0, None)
