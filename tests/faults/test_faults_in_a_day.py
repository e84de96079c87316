"""Faults put into a day: what the table says of them, and what `bench --fault` makes of one."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from kettlebridge.cli.exits import DONE, FAILED, USAGE
from kettlebridge.cli.main import main
from kettlebridge.core.interlocks import INTERLOCKS
from kettlebridge.core.promises import PROMISES
from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.plan import Plan
from kettlebridge.simulated.day_faults import FoldRig
from kettlebridge.simulated.fault_list import listed
from kettlebridge.simulated.virtual_day import VirtualDay
from kettlesim.acts import AddWater, GrainIn
from kettlesim.faults.rig import Rig
from kettlesim.faults.table import (
    AT_THE_KETTLE,
    ELSEWHERE,
    IN_A_DAY,
    OF_THE_CABLE,
    OF_THE_DAY,
    ON_A_WIRE,
    Fault,
)

ROOT = Path(__file__).parents[2]
NO_RULE = {"away"}
"""Causes of a pause that are no interlock's."""


def bench(*words: str, kettle: str = "thimble", profile: str = "quillet_bitter") -> int:
    config = config_folder()
    files = [str(config / "profiles" / f"{profile}.toml"), "--kettle", str(config / "kettles" / f"{kettle}.toml")]
    return main(["bench", *files, *words])


def hurt(day: VirtualDay) -> dict[str, object]:
    """All that a fault may lay hands on, the litres aside."""
    board, world = day.board, day.world
    return {
        "welds": (board.heater_welded, board.contactor_welded, board.pump_welded, board.heater_stuck),
        "inputs": (board.pressed, board.linked),
        "tells": day.tells,
        "world": (world.element_open, world.mains_fraction, world.pump_blocked),
        "loss": round(world.body.wall_outside_w_per_k, 6),
        "bed": world.plant.matter.bed_open_fraction,
    }


def test_every_fault_has_a_name_of_its_own() -> None:
    names = [row.fault for row in listed()]
    assert len(set(names)) == len(names)


def test_a_day_without_a_wire_and_a_board_on_one_have_the_same_faults_of_the_kettle() -> None:
    assert set(IN_A_DAY) & set(ON_A_WIRE) == set(AT_THE_KETTLE)
    assert len(AT_THE_KETTLE) > len(OF_THE_DAY) + len(OF_THE_CABLE)


def test_what_injects_a_fault_exists_and_the_rules_that_end_it_do() -> None:
    assert [row.fault for row in listed() if row.test is not None and not (ROOT / row.test).is_file()] == []
    rules = {row.code for row in INTERLOCKS} | NO_RULE
    ended_by = {fault.name: set(fault.rules) for fault in IN_A_DAY} | {one.name: set(one.rules) for one in ON_A_WIRE}
    assert [name for name, named in ended_by.items() if not named or named - rules] == []


@pytest.mark.parametrize("fault", AT_THE_KETTLE, ids=lambda fault: fault.name)
def test_each_fault_of_a_kettle_can_be_undone_in_a_day(fault: Fault[Rig]) -> None:
    config = config_folder()
    kettle = load_kettle(config / "kettles" / f"{'saddle' if 'same_place' in fault.needs else 'ferryman'}.toml")
    profile = load_profile(config / "profiles" / "long_crossing_porter.toml")
    day = VirtualDay(Plan(kettle=kettle.kettle, profile=profile), seed=1)
    for act in (AddWater(20.0, 60.0), GrainIn(4.0, 18.0)):
        day.world.act(act)
    before, before_l = hurt(day), day.world.truth().volume_l
    rig = FoldRig(day)
    fault.act(rig, 0.0)
    hurts = hurt(day) != before or day.world.truth().volume_l < 0.9 * before_l or day.board.up_ms == 0
    assert hurts
    fault.mend(rig)
    assert hurt(day) == before
    assert day.world.truth().volume_l == pytest.approx(before_l, rel=0.02)


def test_every_rule_that_trips_by_the_heat_or_the_probe_has_a_fault() -> None:
    ended = {rule for fault in IN_A_DAY for rule in fault.rules}
    shown_in_core_alone = {"over_limit", "never_there", "boil_dry", "below_told", "lost_board"}
    assert {row.code for row in INTERLOCKS if row.trips} - ended <= shown_in_core_alone


def test_a_promise_of_a_day_is_one_of_the_registry() -> None:
    kept = {promise.id for promise in PROMISES}
    assert {fault.promise for fault in IN_A_DAY} <= kept


def test_the_page_about_safety_names_every_promise() -> None:
    said = (ROOT / "docs" / "safety.md").read_text(encoding="utf-8")
    named = {int(number) for group in re.findall(r"\(((?:\d+, )*\d+)\)", said) for number in group.split(", ")}
    assert {promise.id for promise in PROMISES} - named == set()


def test_a_broken_element_is_found_and_told_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert bench("--fault", "element-open", "--json") == DONE
    trip = json.loads(capsys.readouterr().out)["trip"]
    assert (trip["promise"], trip["rule"], trip["end_state"]) == (16, "no_heat", "Held")
    assert 0.0 < trip["detected_after_s"] <= 120.0
    assert trip["excess_c"] <= 1.0


def test_a_fault_begins_when_it_is_told_to(capsys: pytest.CaptureFixture[str]) -> None:
    assert bench("--fault", "probe-silent@900", "--json") == DONE
    figures = json.loads(capsys.readouterr().out)
    assert figures["began_s"] == 900.0
    assert figures["trip"]["detected_after_s"] <= 5.0


def test_one_that_is_beyond_the_end_of_the_day_is_not_found() -> None:
    assert bench("--fault", "probe-silent@9e9") == FAILED


def test_the_list_names_all_with_what_injects_them(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench", "--fault", "list", "--json"]) == DONE
    told = json.loads(capsys.readouterr().out)
    assert [row["fault"] for row in told if row["test"] is None] == [fault.name for fault in IN_A_DAY]
    elsewhere = {row["fault"] for row in told if row["test"] is not None}
    assert elsewhere == {fault.name for fault in OF_THE_CABLE} | {fault.name for fault in ELSEWHERE}


def test_the_list_cuts_no_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench", "--fault", "list"]) == DONE
    shown = capsys.readouterr().out
    assert [row.fault for row in listed() if f" {row.fault} " not in shown] == []


def test_what_a_fault_came_to_is_said_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert bench("--fault", "probe-silent@900") == DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "15 min into the day: the probe is unplugged. Found after 3 s (stale): " in said
    assert said.endswith("Now: Paused, heat off.")


@pytest.mark.parametrize("wanted", ["no-such-fault", "element-open@noon", "bad-cable", "cable-loose", "pump-stops"])
def test_what_cannot_be_injected_is_said(wanted: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert bench("--fault", wanted) == USAGE
    assert capsys.readouterr().err
