"""One sigma-delta for every relay."""

from __future__ import annotations

from itertools import groupby, pairwise

import pytest

from kettlebridge.core.relay_window import CLOSED, QUANTUM_S, Window, switch, taken_down
from kettlebridge.model.kettle import HeaterDrive

CONTACTOR_S = QUANTUM_S[HeaterDrive.CONTACTOR]


def switched(duty_fraction: float, seconds: int, window: Window = CLOSED, *, short_pulses: bool = False) -> list[bool]:
    """Whether the contactor is on at each second."""
    ons = []
    for second in range(seconds):
        window, permille = switch(window, duty_fraction, CONTACTOR_S, float(second), 1.0, short_pulses=short_pulses)
        assert permille in {0, 1000}
        ons.append(permille == 1000)
    return ons


def runs(ons: list[bool]) -> list[int]:
    """Lengths of equal stretches, the unfinished last one left out."""
    lengths, length = [], 1
    for before, after in pairwise(ons):
        if before is after:
            length += 1
        else:
            lengths.append(length)
            length = 1
    return lengths


@pytest.mark.parametrize("short_pulses", [False, True])
@pytest.mark.parametrize("duty_fraction", [0.02, 0.1, 0.25, 0.33, 0.5, 0.62, 0.8, 0.95, 1.0])
def test_the_mean_over_ten_minutes_is_the_duty_within_a_quantum(duty_fraction: float, *, short_pulses: bool) -> None:
    ons = switched(duty_fraction, 600, short_pulses=short_pulses)
    assert sum(ons) == pytest.approx(600 * duty_fraction, abs=CONTACTOR_S)


@pytest.mark.parametrize("short_pulses", [False, True])
@pytest.mark.parametrize("duty_fraction", [0.02, 0.25, 0.5, 0.8, 0.95])
def test_a_contactor_dwells_on_and_off_for_its_quantum(duty_fraction: float, *, short_pulses: bool) -> None:
    assert min(runs(switched(duty_fraction, 900, short_pulses=short_pulses))[1:], default=10) >= CONTACTOR_S


@pytest.mark.parametrize("duty_fraction", [0.1, 0.25, 0.45, 0.5])
def test_short_pulses_are_as_short_as_its_quantum_and_others_longer(duty_fraction: float) -> None:
    def longest_on(*, short_pulses: bool) -> int:
        ons = switched(duty_fraction, 900, short_pulses=short_pulses)
        return max(sum(1 for _ in pulse) for on, pulse in groupby(ons) if on)

    assert longest_on(short_pulses=True) == CONTACTOR_S
    assert longest_on(short_pulses=False) > CONTACTOR_S


def test_a_contactor_that_was_on_is_off_at_once_where_pulses_are_to_be_short() -> None:
    long_on = Window(on=True, owed_s=0.0, since_s=-60.0)
    assert not switched(0.45, 1, long_on, short_pulses=True)[0]
    assert switched(0.45, 1, long_on)[0]


def test_full_duty_is_on_at_once_and_without_a_break() -> None:
    assert all(switched(1.0, 120))


def test_zero_acts_at_once_in_the_middle_of_a_dwell_and_forgets_what_was_owed() -> None:
    window, _ = switch(CLOSED, 1.0, CONTACTOR_S, 0.0, 1.0)
    window, permille = switch(window, 0.0, CONTACTOR_S, 1.0, 1.0)
    assert (window, permille) == (Window(on=False, owed_s=0.0, since_s=1.0), 0)


def test_after_being_taken_down_it_stays_off_for_its_dwell() -> None:
    window, _ = switch(CLOSED, 1.0, CONTACTOR_S, 0.0, 1.0)
    window = taken_down(window, 3.0)
    ons = []
    for second in range(4, 20):
        window, permille = switch(window, 1.0, CONTACTOR_S, float(second), 1.0)
        ons.append((second, permille))
    assert next(second for second, permille in ons if permille) == 13


def test_an_ssr_gets_its_per_mille_unchanged() -> None:
    assert switch(CLOSED, 0.4567, 0.0, 0.0, 1.0) == (CLOSED, 457)
    assert switch(CLOSED, 0.0, 0.0, 0.0, 1.0) == (CLOSED, 0)


def test_what_is_owed_is_bounded() -> None:
    window = CLOSED
    for second in range(600):
        window, _ = switch(window, 0.99 if second % 7 else 0.4, CONTACTOR_S, float(second), 1.0)
        assert abs(window.owed_s) <= CONTACTOR_S
