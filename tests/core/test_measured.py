"""What the brewer measured is recorded as read and as corrected, and a volume corrects what is reckoned with."""

from __future__ import annotations

import pytest

from kettlebridge.core.ledger import Grain
from kettlebridge.model.command import CommandKind
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import RestStep
from tests.core.bench_kettle import STRIKE, BenchKettle, plan_of

LONG_REST = RestStep(name="rest", at_c=66.0, for_min=60.0)
NAN = float("nan")


def heating(**values: object) -> BenchKettle:
    bench = BenchKettle(plan_of(STRIKE, LONG_REST), liquid_c=60.0, stage="heat", **values)  # type: ignore[arg-type]
    bench.run(2)
    return bench


def measured(bench: BenchKettle) -> Event:
    (event,) = bench.of(EventCode.MEASURED)
    return event


def test_a_volume_read_hot_counts_as_it_is_at_20_degrees() -> None:
    """CoolProp 8: V(90 °C)/V(20 °C) of water is 1.034080."""
    bench = heating()
    assert bench.tell(CommandKind.MEASURED, litres=18.61344, at_c=90.0) is None
    assert bench.state.ledger.volume_l == pytest.approx(18.0, abs=0.002)
    assert measured(bench).get("read") == 18.61344
    assert measured(bench).get("volume_l") == pytest.approx(18.0, abs=0.002)
    assert measured(bench).get("counted_l") == pytest.approx(20.0, abs=0.01)


def test_without_its_temperature_a_volume_is_as_warm_as_the_probe_says() -> None:
    bench = heating()
    assert bench.tell(CommandKind.MEASURED, litres=18.0) is None
    assert measured(bench).get("at_c") == pytest.approx(60.0, abs=0.2)


def test_the_room_of_the_grain_is_taken_off_a_volume_read_in_the_mash() -> None:
    bench = BenchKettle(plan_of(LONG_REST), liquid_c=66.0, stage="hold", grain=Grain.IN)
    bench.run(2)
    bench.tell(CommandKind.MEASURED, litres=20.0 + 4.0 * 0.67, at_c=20.0)
    assert bench.state.ledger.volume_l == pytest.approx(20.0)


def test_a_measured_volume_makes_no_claim_of_liquid() -> None:
    bench = BenchKettle(plan_of(STRIKE))
    bench.run(4)
    assert bench.tell(CommandKind.MEASURED, litres=20.0, at_c=20.0) == "nothing_in_the_kettle"
    assert bench.state.ledger.volume_l is None


def test_a_measured_volume_makes_a_claim_no_younger() -> None:
    bench = heating()
    before_s = bench.state.ledger.claimed_s
    bench.tell(CommandKind.MEASURED, litres=18.0, at_c=20.0)
    assert bench.state.ledger.claimed_s == before_s


def test_a_hydrometer_in_warm_wort_reads_low() -> None:
    """CoolProp 8: density of water at 20 and 30 °C, 998.2072 and 995.6495 kg/m3."""
    bench = heating()
    assert bench.tell(CommandKind.MEASURED, gravity_sg=1.048, at_c=30.0) is None
    assert measured(bench).get("gravity_sg") == pytest.approx(1.048 * 998.2072 / 995.6495, abs=2e-5)
    assert measured(bench).get("by") == "hydrometer"


def test_a_refractometer_reads_wort_four_per_cent_high() -> None:
    """The divisor of 1.04 is from memory; 12 °P are 1.04837 by the ASBC polynomial's inverse."""
    bench = heating()
    assert bench.tell(CommandKind.MEASURED, brix=12.48) is None
    assert measured(bench).get("gravity_sg") == pytest.approx(1.04837, abs=2e-5)
    assert measured(bench).get("plato") == pytest.approx(12.0, abs=0.002)


@pytest.mark.parametrize(
    ("values", "reason"),
    [
        ({}, "nothing_measured"),
        ({"litres": 31.0, "at_c": 20.0}, "more_than_the_kettle_holds"),
        ({"litres": 0.0, "at_c": 20.0}, "litres_out_of_range"),
        ({"litres": NAN, "at_c": 20.0}, "litres_out_of_range"),
        ({"litres": 20.0, "at_c": 150.0}, "sample_out_of_range"),
        ({"gravity_sg": 1.05}, "sample_out_of_range"),
        ({"gravity_sg": 1.05, "at_c": 90.0}, "sample_out_of_range"),
        ({"gravity_sg": 12.0, "at_c": 20.0}, "gravity_out_of_range"),
        ({"gravity_sg": 12.0}, "gravity_out_of_range"),
        ({"gravity_sg": NAN, "at_c": 20.0}, "gravity_out_of_range"),
        ({"brix": 40.0}, "gravity_out_of_range"),
        ({"brix": 40.0, "at_c": 90.0}, "gravity_out_of_range"),
        ({"brix": 12.0, "at_c": NAN}, "sample_out_of_range"),
    ],
)
def test_nonsense_is_refused_and_changes_nothing(values: dict[str, float], reason: str) -> None:
    bench = heating()
    before = bench.state.ledger.volume_l
    assert bench.tell(CommandKind.MEASURED, **values) == reason
    assert bench.state.ledger.volume_l == before
    assert bench.of(EventCode.MEASURED) == []
