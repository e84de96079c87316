"""What a rule takes down, and what is told a board of the rest."""

from __future__ import annotations

import pytest

from kettlebridge.core.outputs import ALL_OFF, Lowers, Outputs, demands, lowered
from kettlebridge.model.demand import Demand, Output

ON = Outputs(heater_permille=600, pump_on=True, main_contactor_on=True, buzzer=3)


@pytest.mark.parametrize(
    ("what", "left"),
    [
        (Lowers.NOTHING, ON),
        (Lowers.HEATER, ON._replace(heater_permille=0)),
        (Lowers.CONTACTOR, ON._replace(main_contactor_on=False)),
        (Lowers.PUMP, ON._replace(pump_on=False)),
        (Lowers.HEAT, ON._replace(heater_permille=0, main_contactor_on=False)),
        (Lowers.HEATER | Lowers.PUMP, ON._replace(heater_permille=0, pump_on=False)),
        (Lowers.ALL, Outputs(buzzer=3)),
    ],
    ids=str,
)
def test_what_is_named_goes_down_and_the_rest_stays(what: Lowers, left: Outputs) -> None:
    assert lowered(ON, what) == left


@pytest.mark.parametrize("what", list(Lowers), ids=str)
def test_what_is_off_stays_off(what: Lowers) -> None:
    assert lowered(ALL_OFF, what) == ALL_OFF == Outputs(0, False, False, 0)


def test_heat_is_heater_and_main_contactor_and_all_is_the_pump_too() -> None:
    assert Lowers.HEAT == Lowers.HEATER | Lowers.CONTACTOR
    assert Lowers.ALL == Lowers.HEAT | Lowers.PUMP
    assert not Lowers.NOTHING


def test_a_board_is_told_of_every_output_under_one_lease_of_one_report() -> None:
    assert demands(ON, 3000, 184_460) == (
        Demand(Output.HEATER, 600, 3000, 184_460),
        Demand(Output.PUMP, 1000, 3000, 184_460),
        Demand(Output.MAIN_CONTACTOR, 1000, 3000, 184_460),
        Demand(Output.BUZZER, 3, 3000, 184_460),
    )
    assert [demand.permille for demand in demands(ALL_OFF, 200, 7)] == [0, 0, 0, 0]
    half = demands(ON._replace(pump_on=False), 200, 7)
    assert [demand.permille for demand in half] == [600, 0, 1000, 3]
