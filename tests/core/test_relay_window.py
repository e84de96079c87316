"""One sigma-delta for every relay."""

from __future__ import annotations

from itertools import groupby, pairwise

import pytest

from kettlebridge.core.relay_window import CLOSED, SHORT, SPARING, Pulses, Window, switch, taken_down
from kettlebridge.model.kettle import HeaterDrive

CONTACTOR = SPARING[HeaterDrive.CONTACTOR]
BRIEF = SHORT[HeaterDrive.CONTACTOR]
CONTACTOR_S = CONTACTOR.quantum_s


def switched(duty_fraction: float, seconds: int, window: Window = CLOSED, pulses: Pulses = CONTACTOR) -> list[bool]:
    """Whether the contactor is on at each second."""
    ons = []
    for second in range(seconds):
        window, permille = switch(window, duty_fraction, pulses, float(second), 1.0)
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


@pytest.mark.parametrize("pulses", [CONTACTOR, BRIEF])
@pytest.mark.parametrize("duty_fraction", [0.02, 0.1, 0.25, 0.33, 0.5, 0.62, 0.8, 0.95, 1.0])
def test_the_mean_over_ten_minutes_is_the_duty_within_a_quantum(duty_fraction: float, pulses: Pulses) -> None:
    ons = switched(duty_fraction, 600, pulses=pulses)
    assert sum(ons) == pytest.approx(600 * duty_fraction, abs=CONTACTOR_S)


@pytest.mark.parametrize("pulses", [CONTACTOR, BRIEF])
@pytest.mark.parametrize("duty_fraction", [0.02, 0.25, 0.5, 0.8, 0.95])
def test_a_contactor_dwells_on_and_off_for_its_quantum(duty_fraction: float, pulses: Pulses) -> None:
    assert min(runs(switched(duty_fraction, 900, pulses=pulses))[1:], default=10) >= CONTACTOR_S


@pytest.mark.parametrize("duty_fraction", [0.1, 0.25, 0.45, 0.5])
def test_short_pulses_are_as_short_as_its_quantum_and_others_longer(duty_fraction: float) -> None:
    def longest_on(pulses: Pulses) -> int:
        ons = switched(duty_fraction, 900, pulses=pulses)
        return max(sum(1 for _ in pulse) for on, pulse in groupby(ons) if on)

    assert longest_on(BRIEF) == CONTACTOR_S
    assert longest_on(CONTACTOR) > CONTACTOR_S


def test_a_contactor_that_was_on_is_off_at_once_where_pulses_are_to_be_short() -> None:
    long_on = Window(on=True, owed_s=0.0, since_s=-60.0)
    assert not switched(0.45, 1, long_on, BRIEF)[0]
    assert switched(0.45, 1, long_on)[0]


def test_full_duty_is_on_at_once_and_without_a_break() -> None:
    assert all(switched(1.0, 120))


def test_zero_acts_at_once_in_the_middle_of_a_dwell_and_forgets_what_was_owed() -> None:
    window, _ = switch(CLOSED, 1.0, CONTACTOR, 0.0, 1.0)
    window, permille = switch(window, 0.0, CONTACTOR, 1.0, 1.0)
    assert (window, permille) == (Window(on=False, owed_s=0.0, since_s=1.0), 0)


def test_after_being_taken_down_it_stays_off_for_its_dwell() -> None:
    window, _ = switch(CLOSED, 1.0, CONTACTOR, 0.0, 1.0)
    window = taken_down(window, 3.0)
    ons = []
    for second in range(4, 20):
        window, permille = switch(window, 1.0, CONTACTOR, float(second), 1.0)
        ons.append((second, permille))
    assert next(second for second, permille in ons if permille) == 13


def test_an_ssr_gets_its_per_mille_unchanged() -> None:
    assert switch(CLOSED, 0.4567, SPARING[HeaterDrive.SSR], 0.0, 1.0) == (CLOSED, 457)
    assert switch(CLOSED, 0.0, SHORT[HeaterDrive.SSR], 0.0, 1.0) == (CLOSED, 0)


def test_what_is_owed_is_bounded() -> None:
    window = CLOSED
    for second in range(600):
        window, _ = switch(window, 0.99 if second % 7 else 0.4, CONTACTOR, float(second), 1.0)
        assert abs(window.owed_s) <= CONTACTOR_S
