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
from kettlesim.faults import FAULTS, Fault

ROOT = Path(__file__).parents[2]
NO_RULE = {"away"}
"""Causes of a pause that are no interlock's."""


def bench(*words: str, kettle: str = "thimble", profile: str = "quillet_bitter") -> int:
    config = config_folder()
    files = [str(config / "profiles" / f"{profile}.toml"), "--kettle", str(config / "kettles" / f"{kettle}.toml")]
    return main(["bench", *files, *words])


def test_every_fault_has_a_name_of_its_own_and_is_injected_somewhere() -> None:
    assert len({fault.name for fault in FAULTS}) == len(FAULTS)
    assert all((fault.act is None) == bool(fault.test) for fault in FAULTS)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_what_injects_a_fault_exists_and_the_rules_that_end_it_do(fault: Fault) -> None:
    if fault.test:
        assert (ROOT / fault.test).is_file()
    else:
        assert set(fault.rules) <= {row.code for row in INTERLOCKS} | NO_RULE
        assert fault.rules


def test_every_rule_that_trips_by_the_heat_or_the_probe_has_a_fault() -> None:
    ended = {rule for fault in FAULTS for rule in fault.rules}
    shown_in_core_alone = {"over_limit", "never_there", "boil_dry"}
    assert {row.code for row in INTERLOCKS if row.trips} - ended <= shown_in_core_alone


def test_a_promise_of_a_day_is_one_of_the_registry() -> None:
    kept = {promise.id for promise in PROMISES}
    assert {fault.promise for fault in FAULTS if fault.act is not None} - kept <= {6}


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
    listed = json.loads(capsys.readouterr().out)
    assert [row["fault"] for row in listed] == [fault.name for fault in FAULTS]
    assert {row["test"] for row in listed} - {None} == {fault.test for fault in FAULTS if fault.test}


@pytest.mark.parametrize("wanted", ["no-such-fault", "element-open@noon", "bad-cable", "pump-stops"])
def test_what_cannot_be_injected_is_said(wanted: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert bench("--fault", wanted) == USAGE
    assert capsys.readouterr().err
