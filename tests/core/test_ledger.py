"""What is in the kettle: litres, grain, energy."""

from __future__ import annotations

import pytest

from kettlebridge.brewing.energy import BOIL_OFF_W_PER_L_H
from kettlebridge.core.ledger import (
    CLAIM_ENDS_S,
    EMPTY,
    Grain,
    Ledger,
    after_ask,
    litres_asked,
    moved_on,
    still_claimed,
    transferred,
    with_water,
)
from kettlebridge.model.plan import AskKind, AskStep
from tests.core.bench_kettle import BARE, KETTLE, STRIKE, BenchKettle, plan_of

PLAN = plan_of(STRIKE)
FULL = Ledger(volume_l=20.0, claimed_s=5.0)


def asked(what: AskKind, ledger: Ledger = FULL, litres: float | None = None, said: float | None = None) -> Ledger:
    return after_ask(ledger, PLAN, AskStep(name="a", what=what, litres=litres), said, 100.0)


def test_a_fill_is_what_the_profile_the_step_or_the_brewer_says() -> None:
    assert asked(AskKind.FILL, EMPTY) == Ledger(volume_l=20.0, claimed_s=100.0)
    assert asked(AskKind.FILL, EMPTY, litres=14.0).volume_l == 14.0
    assert asked(AskKind.FILL, EMPTY, litres=14.0, said=13.5).volume_l == 13.5


def test_the_grain_goes_in_is_lifted_with_what_it_holds_and_taken_away() -> None:
    mash = asked(AskKind.DOUGH_IN)
    assert (mash.grain, mash.grain_kg, mash.volume_l) == (Grain.IN, 4.0, 20.0)
    lifted = asked(AskKind.LIFT, mash)
    assert (lifted.grain, lifted.grain_kg) == (Grain.LIFTED, 0.0)
    assert lifted.volume_l == pytest.approx(17.2)
    sparged = asked(AskKind.SPARGE, lifted)
    assert sparged.volume_l == pytest.approx(22.2)
    assert asked(AskKind.BASKET_AWAY, sparged).grain is Grain.AWAY


def test_lifting_more_than_there_is_leaves_nothing_not_less() -> None:
    assert asked(AskKind.LIFT, Ledger(volume_l=1.0, grain=Grain.IN, grain_kg=4.0)).volume_l == 0.0


@pytest.mark.parametrize("what", [AskKind.DOUGH_IN, AskKind.LIFT, AskKind.SPARGE, AskKind.BASKET_AWAY])
def test_no_ask_but_a_fill_makes_a_claim(what: AskKind) -> None:
    assert asked(what, EMPTY).volume_l is None


@pytest.mark.parametrize("what", [AskKind.STIR, AskKind.DRAIN, AskKind.PITCH, AskKind.OTHER])
def test_an_ask_about_something_else_changes_nothing(what: AskKind) -> None:
    assert asked(what) is FULL


def test_emptying_and_transfer_end_the_claim() -> None:
    assert asked(AskKind.EMPTY).volume_l is None
    assert transferred(FULL).volume_l is None


def test_a_claim_ends_after_24_hours_to_the_second() -> None:
    assert still_claimed(FULL, 5.0 + CLAIM_ENDS_S) is FULL
    assert still_claimed(FULL, 5.1 + CLAIM_ENDS_S).volume_l is None


def test_water_is_added_to_a_claim_only() -> None:
    assert with_water(FULL, 2.0).volume_l == 22.0
    assert with_water(EMPTY, 2.0) is EMPTY


def test_energy_is_power_times_time_and_water_boils_off_by_what_is_left_of_it() -> None:
    after = moved_on(FULL, KETTLE, 500, boiling=True, dt_s=3600.0)
    assert after.energy_j == pytest.approx(1250.0 * 3600.0)
    assert after.volume_l == pytest.approx(20.0 - (1250.0 - 160.0) / BOIL_OFF_W_PER_L_H)
    assert moved_on(FULL, KETTLE, 500, boiling=False, dt_s=3600.0).volume_l == 20.0
    assert moved_on(FULL, KETTLE, 0, boiling=True, dt_s=3600.0) is FULL
    assert moved_on(Ledger(volume_l=0.1), KETTLE, 1000, boiling=True, dt_s=3600.0).volume_l == 0.0


def test_what_a_lost_board_was_never_told_is_no_energy() -> None:
    bench = BenchKettle(plan_of(STRIKE, kettle=BARE), stage="heat")
    bench.run(5)
    bench.linked = False
    bench.run(2)
    before_j = bench.state.ledger.energy_j
    bench.run(20)
    assert bench.state.ledger.energy_j == before_j


def test_litres_asked_are_the_steps_own_or_the_profiles() -> None:
    assert litres_asked(AskStep(name="a", what=AskKind.SPARGE), PLAN) == 5.0
    assert litres_asked(AskStep(name="a", what=AskKind.SPARGE, litres=3.0), PLAN) == 3.0
    assert litres_asked(AskStep(name="a", what=AskKind.STIR), PLAN) is None
