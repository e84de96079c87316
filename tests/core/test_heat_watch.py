"""Each figure of the heat watch, one second at a time, worked out by hand: 3 kW and 20 L give 0.036 °C/s."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from kettlebridge.core.heat import MALT_J_PER_KG_K
from kettlebridge.core.heat_watch import Heating, HeatWatch, followed, open_surface_w, risen_c
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
    pours=False,
    poured_l=0.0,
    poured_c=55.0,
    falling=False,
    running=True,
    boils=False,
    target_c=66.0,
    stage_begun_s=0.0,
    step_index=0,
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

    def test_waits_three_minutes_after_a_mash_was_moved_and_two_where_all_is_told_off(self) -> None:
        mash = Ledger(volume_l=20.0, grain=Grain.IN, grain_kg=4.0)
        told_off = CALM._replace(ledger=mash, told_off=True, running=False)
        for here, settles_s in ((CALM._replace(ledger=mash), 180.0), (told_off, 120.0)):
            assert risen(0.06, here=here, still_s=settles_s - 1.0).stray_c == 0.0
            assert risen(0.06, here=here, still_s=settles_s).stray_c == pytest.approx(0.02)

    def test_once_found_it_has_to_fall_by_a_fifth_of_a_degree_to_be_gone(self) -> None:
        found = risen(0.06, HOT._replace(stray_c=0.95), CALM)
        assert found.stray_c == pytest.approx(1.21)
        assert risen(0.06, found, CALM).stray_c == pytest.approx(1.27)
        falls = found
        for _ in range(3):
            falls = risen(-0.06, falls, CALM)
        assert falls.found
        assert not risen(-0.06, falls, CALM).found

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

    def test_is_not_taken_from_a_second_tick_in_the_same_instant(self) -> None:
        assert risen(0.0, here=self.PAUSED, dt_s=0.0).put_back_s == -math.inf

    def test_is_given_as_long_to_settle_as_moved_liquid(self) -> None:
        put_back = HOT._replace(put_back_s=941.0)
        assert risen(0.05, put_back, self.PAUSED).stray_c == 0.0
        assert risen(0.05, put_back, self.PAUSED, now_s=1001.0).stray_c == pytest.approx(0.05)
        assert risen(0.06, put_back, self.PAUSED, ledger=self.MASH, now_s=1060.0).stray_c == 0.0
        assert risen(0.06, put_back, self.PAUSED, ledger=self.MASH, now_s=1061.0).stray_c == pytest.approx(0.02)


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
        assert risen(-0.01, before, FULL, **changes).lack_c > 0.0

    def test_is_no_more_than_weak_mains_much_liquid_and_a_wide_open_kettle_leave(self) -> None:
        lost = lost_w(85.0) / 3000.0
        assert 0.0 < 0.7 - 2.0 * lost < 0.4 * (1.0 - lost)
        assert risen(0.0, HOT._replace(last_c=85.0), target_c=95.0).lack_c == pytest.approx(
            (0.7 - 2.0 * lost) * FULL_C_PER_S
        )
        less = HOT._replace(last_c=85.0, lag1=0.9, lag2=0.9)
        assert risen(0.0, less, target_c=95.0, applied_fraction=0.9).lack_c == pytest.approx(
            (0.63 - 2.0 * lost) * FULL_C_PER_S
        )
        assert lost_w(93.0) > 0.35 * 3000.0
        assert risen(0.0, HOT._replace(last_c=93.0), target_c=99.0).lack_c == 0.0
        assert risen(-0.01, HOT._replace(last_c=93.01), target_c=99.0).lack_c == pytest.approx(0.01)

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
        assert risen(0.0, HOT._replace(same_c=2.7)).same_c == 2.7
        assert risen(0.0, HOT._replace(same_c=1.9)).same_c > 1.9

    def test_says_nothing_of_a_boil(self) -> None:
        assert risen(0.0, HOT._replace(last_c=96.5, same_c=0.5), boils=True).same_c == 0.5


class TestWhatAStageMayTake:
    """`left_j`."""

    def test_is_seven_tenths_more_and_a_tenth_of_a_kilowatt_hour_and_two_degrees(self) -> None:
        begun = risen(0.0, HOT._replace(left_j=None))
        assert begun.left_j == pytest.approx(0.36e6 + (2.0 + 1.7 * 16.0) * 4186.0 * 20.0, abs=0.1)

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


@pytest.mark.parametrize("dt_s", [0.25, 2.0, 5.0])
class TestATickOfAnyLength:
    """Counts as much as ticks of a second would have in that time."""

    def test_explains_and_adds_that_much_more_of_a_rise(self, dt_s: float) -> None:
        rise_c = 0.1 * dt_s
        assert risen(rise_c, dt_s=dt_s).fast_c == pytest.approx((0.1 - 1.45 * FULL_C_PER_S) * dt_s)
        cold = HOT._replace(last_c=12.0)
        room_c_per_s = 2.0 * 5.0 * (32.0 - 12.0 - 0.01 * dt_s) / (4186.0 * 20.0)
        assert risen(0.01 * dt_s, cold, CALM, dt_s=dt_s).stray_c == pytest.approx((0.01 - room_c_per_s) * dt_s)
        boiling = HOT._replace(last_c=97.0, open_since_s=990.0)
        falls_c_per_s = 0.3 * 5.0 * (97.0 - 20.0) / (4186.0 * 20.0)
        assert risen(0.0, boiling, CALM, told_off=True, dt_s=dt_s).stray_c == pytest.approx(falls_c_per_s * dt_s)

    def test_expects_that_much_more_of_the_heater(self, dt_s: float) -> None:
        net = 1.0 - lost_w(50.0) / 3000.0
        assert risen(0.0, dt_s=dt_s).lack_c == pytest.approx(0.4 * net * FULL_C_PER_S * dt_s)
        assert risen(0.0, dt_s=dt_s).same_c == pytest.approx(net * FULL_C_PER_S * dt_s)
        assert risen(0.0, dt_s=dt_s).left_j == pytest.approx(1e6 + (1.7 * lost_w(50.0) - 3000.0) * dt_s, abs=0.1)

    def test_brings_the_heater_nearer_to_the_probe(self, dt_s: float) -> None:
        gain = dt_s / (dt_s + 0.5 * (25.0 + 15.0))
        after = risen(0.0, HeatWatch(last_c=50.0, lag1=0.4, lag2=0.2), dt_s=dt_s)
        lag1 = 0.4 + gain * 0.6
        assert after.lag1 == pytest.approx(lag1)
        assert after.lag2 == pytest.approx(0.2 + gain * (lag1 - 0.2))

    def test_lets_a_probe_move_that_much_further_before_it_was_elsewhere(self, dt_s: float) -> None:
        paused = CALM._replace(running=False, told_off=True, dt_s=dt_s)
        bound_c = (1.0 + 1.45 * FULL_C_PER_S) * dt_s
        for sign in (1.0, -1.0):
            assert risen(sign * 1.01 * bound_c, here=paused).put_back_s == 1000.0
            assert risen(sign * 0.99 * bound_c, here=paused).put_back_s == -math.inf

    def test_asks_anew_once_in_the_tick_in_which_two_minutes_end(self, dt_s: float) -> None:
        told_off = CALM._replace(told_off=True, dt_s=dt_s)
        before = HOT._replace(stray_c=1.0, open_since_s=880.0)
        assert risen(0.0, before, told_off, now_s=1000.0).stray_c == 0.0
        assert risen(0.0, before, told_off, now_s=1000.0 + 0.9 * dt_s).stray_c == 0.0
        assert risen(0.0, before, told_off, now_s=1000.0 + dt_s).stray_c == 1.0
        assert risen(0.0, before, told_off, now_s=999.9).stray_c == 1.0


class TestASum:
    """Goes on from where it was, and never falls below nothing."""

    def test_adds_to_what_was_there(self) -> None:
        per_s = {"fast_c": 0.1 - 1.45 * FULL_C_PER_S, "stray_c": 0.1}
        assert risen(0.1, HOT._replace(fast_c=0.5)).fast_c == pytest.approx(0.5 + per_s["fast_c"])
        assert risen(0.1, HOT._replace(stray_c=0.5), CALM).stray_c == pytest.approx(0.5 + per_s["stray_c"])
        assert risen(0.0, HOT._replace(lack_c=0.5)).lack_c == pytest.approx(0.5 + risen(0.0).lack_c)

    def test_shrinks_by_what_a_healthy_second_has_over_and_ends_at_nothing(self) -> None:
        left_c = risen(0.0, HOT._replace(fast_c=0.5)).fast_c
        assert left_c == pytest.approx(0.5 - 1.45 * FULL_C_PER_S)
        assert risen(0.0, HOT._replace(fast_c=0.01)).fast_c == 0.0
        assert risen(-0.2, HOT._replace(stray_c=0.5), CALM).stray_c == pytest.approx(0.3)
        assert risen(-0.2, HOT._replace(stray_c=0.1), CALM).stray_c == 0.0
        assert risen(0.1, HOT._replace(lack_c=0.5)).lack_c == pytest.approx(0.5 + risen(0.0).lack_c - 0.1, abs=1e-5)
        assert risen(0.1, HOT._replace(lack_c=0.01)).lack_c == 0.0

    def test_explains_by_the_share_of_power_that_may_still_show(self) -> None:
        assert risen(0.1, recent_fraction=0.6).fast_c == pytest.approx(0.1 - 0.6 * 1.45 * FULL_C_PER_S)
        assert risen(0.1, recent_fraction=0.3).stray_c == pytest.approx(0.1 - 0.3 * 1.45 * FULL_C_PER_S)

    def test_counts_grain_by_its_heat_where_the_whole_is_heated(self) -> None:
        mash = Ledger(volume_l=20.0, grain=Grain.IN, grain_kg=4.0)
        share = 4186.0 * 20.0 / (4186.0 * 20.0 + MALT_J_PER_KG_K * 4.0)
        assert risen(0.0, ledger=mash).lack_c == pytest.approx(share * risen(0.0).lack_c)
        assert risen(0.0, ledger=mash).same_c == pytest.approx(share * risen(0.0).same_c)

    def test_knows_no_more_under_the_basket_than_there_is(self) -> None:
        little = Ledger(volume_l=4.0, grain=Grain.IN, grain_kg=1.0)
        assert risen(0.4, ledger=little).fast_c == pytest.approx(0.4 - 1.45 * 3000.0 / (4186.0 * 4.0))
        bare = replace(TWENTY, under_basket_l=0.0)
        whole = 4186.0 * 20.0 + MALT_J_PER_KG_K * 4.0
        mash = Ledger(volume_l=20.0, grain=Grain.IN, grain_kg=4.0)
        assert risen(0.3, kettle=bare, ledger=mash).fast_c == pytest.approx(0.3 - 1.45 * 3000.0 / whole)

    def test_waits_no_longer_for_grain_that_has_gone(self) -> None:
        away = Ledger(volume_l=20.0, grain=Grain.AWAY)
        assert risen(1.0, still_s=60.0, ledger=away).fast_c > 0.0
        assert risen(0.06, here=CALM, ledger=away).stray_c == pytest.approx(0.06)

    def test_of_a_fast_rise_is_kept_of_a_day_that_runs_alone(self) -> None:
        assert risen(1.0, running=False).fast_c == 0.0
        assert risen(1.0, HOT._replace(fast_c=0.5), running=False).fast_c == 0.0


class TestAtTheEdge:
    """Where one thing ends and the other begins."""

    def test_a_degree_under_its_target_a_rise_is_still_asked_for(self) -> None:
        assert risen(0.0, target_c=51.0).lack_c > 0.0
        assert risen(0.0, target_c=40.0).lack_c == 0.0

    def test_four_degrees_under_the_boil_it_is_not_near(self) -> None:
        at_96 = HOT._replace(last_c=96.0)
        assert risen(-1e-3, at_96._replace(last_c=96.001), boils=True, target_c=None).lack_c > 0.0
        assert risen(0.0, at_96._replace(same_c=0.5), boils=True).same_c > 0.5
        assert risen(0.0, at_96._replace(open_since_s=990.0), CALM, told_off=True).stray_c == 0.0

    def test_half_of_full_power_after_losses_is_enough(self) -> None:
        share = 0.5 + lost_w(50.0) / 3000.0
        steady = HOT._replace(lag1=share + 1e-9, lag2=share + 1e-9)
        assert risen(0.0, steady, applied_fraction=share + 1e-9).lack_c > 0.0
        less = HOT._replace(lag1=share - 1e-9, lag2=share - 1e-9)
        assert risen(0.0, less, applied_fraction=share - 1e-9).lack_c == 0.0

    @pytest.mark.parametrize(("change_c", "same"), [(0.9e-6, True), (-0.9e-6, True), (1.1e-6, False), (-1.1e-6, False)])
    def test_a_millionth_of_a_degree_is_a_change(self, change_c: float, same: bool) -> None:
        assert (risen(change_c).same_c > 0.0) is same

    def test_nothing_is_expected_of_a_reading_that_repeats_itself_while_nothing_runs(self) -> None:
        assert risen(0.0, HOT._replace(same_c=0.5), running=False).same_c == 0.0

    def test_a_fall_that_was_missed_is_found_like_a_rise(self) -> None:
        cooling = HOT._replace(lag1=0.0, lag2=0.0, same_c=-1.0)
        assert risen(0.0, cooling, CALM).same_c == pytest.approx(-1.0 - lost_w(50.0) / (4186.0 * 20.0))
        assert risen(0.0, cooling._replace(same_c=-2.0), CALM).same_c == -2.0

    def test_what_is_hotter_than_its_target_has_no_rise_before_it(self) -> None:
        begun = risen(0.0, HOT._replace(left_j=None), target_c=40.0)
        assert begun.left_j == pytest.approx(0.36e6 + 2.0 * 4186.0 * 20.0, abs=0.1)

    def test_what_a_stage_may_take_is_counted_while_the_day_runs(self) -> None:
        assert risen(0.0, running=False).left_j is None
        assert risen(0.0, stage_begun_s=0.0).stage_begun_s == 0.0
        assert risen(0.0, stage_begun_s=7.0).stage_begun_s == 7.0


class TestSinceWhenAllIsToldOff:
    """`open_since_s`."""

    def test_begins_with_the_first_tick_of_it_and_ends_with_the_last(self) -> None:
        assert risen(0.0, here=CALM, told_off=True).open_since_s == 1000.0
        assert risen(0.0, HOT._replace(open_since_s=950.0), CALM, told_off=True).open_since_s == 950.0
        assert risen(0.0, HOT._replace(open_since_s=950.0), CALM).open_since_s is None

    def test_is_kept_where_nothing_can_be_judged(self) -> None:
        unheard = CALM._replace(control_c=None, told_off=True)
        assert followed(HOT._replace(open_since_s=950.0), unheard).open_since_s == 950.0
        assert followed(HOT, unheard).open_since_s == 1000.0

    def test_a_probe_that_is_heard_again_begins_with_the_heat_that_is_on(self) -> None:
        after = followed(HOT._replace(last_c=None), FULL._replace(applied_fraction=0.7))
        assert (after.last_c, after.lag1, after.lag2) == (50.0, 0.7, 0.7)

    def test_when_it_was_put_back_is_remembered_until_it_is_again(self) -> None:
        assert risen(0.0, HOT._replace(put_back_s=700.0)).put_back_s == 700.0
        assert followed(HOT._replace(put_back_s=700.0), CALM._replace(control_c=None)).put_back_s == 700.0


@pytest.mark.parametrize(
    ("at", "before"),
    [
        ({"lack_c": 0.601}, {"lack_c": 0.599}),
        ({"fast_c": 2.0}, {"fast_c": 1.999}),
        ({"stray_c": 1.0}, {"stray_c": 0.999}),
        ({"same_c": 2.0}, {"same_c": 1.999}),
        ({"same_c": -2.0}, {"same_c": -1.999}),
        ({"left_j": -0.001}, {"left_j": 0.0}),
        ({"left_j": -9e9}, {"left_j": 9e9}),
        ({"lack_c": 9.0, "fast_c": 9.0, "stray_c": 9.0, "same_c": 9.0}, {"last_c": 99.0, "lag1": 1.0, "lag2": 1.0}),
    ],
    ids=str,
)
def test_something_is_found_when_a_sum_has_reached_its_bound(at: dict[str, Any], before: dict[str, Any]) -> None:
    assert HeatWatch(**at).found
    assert not HeatWatch(**before).found
    for name, value in at.items():
        assert HeatWatch(**{name: 3.0 * value}).found


def test_nothing_is_found_before_anything_was_watched() -> None:
    assert tuple(HeatWatch()) == (None, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, None, 0.0, None, -math.inf, 0, None)
    assert not HeatWatch().found


class TestWhileHandsAreAtWork:
    """Everything is told off, liquid may come in: what counts is the rise since the step began."""

    AT_WORK = CALM._replace(pours=True, told_off=True, running=False, control_c=60.0, still_s=0.0)
    BEGUN = followed(HeatWatch(last_c=60.0), AT_WORK)

    def test_it_is_counted_from_what_the_probe_read_when_the_step_began(self) -> None:
        later = followed(self.BEGUN, self.AT_WORK._replace(control_c=63.0))
        assert risen_c(later, self.AT_WORK._replace(control_c=64.0)) == pytest.approx(4.0)

    def test_another_step_and_a_pause_between_begin_anew(self) -> None:
        other = self.AT_WORK._replace(control_c=63.0, step_index=1)
        assert risen_c(followed(self.BEGUN, other), other) == 0.0
        paused = followed(self.BEGUN, self.AT_WORK._replace(pours=False))
        again = self.AT_WORK._replace(control_c=63.0)
        assert risen_c(paused, again) == 0.0
        assert risen_c(followed(paused, again), again) == 0.0

    def test_boiling_water_that_is_to_be_poured_in_explains_its_share(self) -> None:
        pouring = self.AT_WORK._replace(poured_l=5.0, control_c=70.0)
        assert risen_c(self.BEGUN, pouring) == pytest.approx(10.0 - 5.0 / 25.0 * 40.0)

    def test_it_says_nothing_of_a_kettle_in_which_nothing_is_confirmed(self) -> None:
        assert risen_c(self.BEGUN, self.AT_WORK._replace(ledger=Ledger(), control_c=90.0)) == 0.0


def test_a_step_that_pours_may_take_what_its_water_needs_at_the_coldest() -> None:
    dry = risen(0.0, here=FULL._replace(stage_begun_s=5.0))
    wet = risen(0.0, here=FULL._replace(stage_begun_s=5.0, pours=True, poured_l=4.0, poured_c=56.0))
    assert dry.left_j is not None
    assert wet.left_j is not None
    assert wet.left_j - dry.left_j == pytest.approx(1.7 * 4186.0 * 4.0 * 10.0, rel=1e-3)
