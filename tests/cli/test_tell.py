"""`tell` asks the service in its own words, and says what became of it in the brewer's."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict, replace
from enum import Enum
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from kettlebridge.brewing.measuring import HYDROMETER_SG
from kettlebridge.cli import tell
from kettlebridge.cli.main import main
from kettlebridge.cli.told_status import status_lines
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.snapshot import ProbeView, Snapshot
from kettlebridge.runtime.control_socket import TellRequest
from tests.documents.builders import call, plan, snapshot


class FakeService:
    """Answers every request with `answer`, and keeps it."""

    def __init__(self) -> None:
        self.answer: dict[str, object] = {"refused": None, "n": 7, "recorded": True}
        self.requests: list[dict[str, object]] = []

    async def ask(self, path: Path, request: dict[str, object]) -> dict[str, object]:
        self.requests.append(request)
        return self.answer

    def command(self) -> Command:
        """The last request as the real service reads it."""
        return TellRequest.model_validate(self.requests[-1]).command(lambda _kettle, code: code == "4711")


@pytest.fixture
def service(monkeypatch: pytest.MonkeyPatch) -> FakeService:
    fake = FakeService()
    monkeypatch.setattr(tell, "ask", fake.ask)
    return fake


def plain(value: object) -> object:
    assert isinstance(value, Enum)
    return value.value


def test_everything_that_may_be_told_can_be_told() -> None:
    assert set(tell.WORDS) == set(CommandKind)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["confirm"], {"kind": CommandKind.CONFIRM}),
        (["confirm", "0.ask.0", "--litres", "7.5"], {"call": "0.ask.0", "litres": 7.5}),
        (["extend", "-5"], {"kind": CommandKind.EXTEND, "minutes": -5.0}),
        (["extend", "-5", "--step", "9"], {"minutes": -5.0, "step_index": 8}),
        (["retarget", "66.5"], {"kind": CommandKind.RETARGET, "target_c": 66.5}),
        (["adding-water", "1.5"], {"kind": CommandKind.ADDING_WATER, "litres": 1.5}),
        (["measured", "--litres", "23", "--at-c", "90"], {"litres": 23.0, "at_c": 90.0, "gravity_sg": None}),
        (["measured", "--gravity", "1.048", "--at-c", "30"], {"gravity_sg": 1.048, "at_c": 30.0, "brix": None}),
        (["measured", "--brix", "12.5"], {"brix": 12.5, "at_c": None}),
        (["measured", "--gravity", "1.000", "--refractometer"], {"brix": 0.0, "gravity_sg": None}),
        (["draw-off", "on"], {"kind": CommandKind.DRAW_OFF, "on": True}),
        (["draw-off", "off"], {"kind": CommandKind.DRAW_OFF, "on": False}),
        (["acknowledge"], {"kind": CommandKind.ACKNOWLEDGE, "alarm": None}),
        (["acknowledge", "link"], {"alarm": "link"}),
        (["carry-on"], {"kind": CommandKind.CARRY_ON, "at_kettle": False}),
        (["carry-on", "--code", "4711"], {"kind": CommandKind.CARRY_ON, "at_kettle": True}),
        (["stop-heat"], {"kind": CommandKind.STOP_HEAT}),
    ],
)
def test_words_become_the_command_that_the_service_reads(
    words: list[str], expected: dict[str, object], service: FakeService
) -> None:
    assert main(["tell", "thimble", *words]) == 0
    command = service.command()
    assert {name: getattr(command, name) for name in expected} == expected


def test_a_refusal_is_told_in_words_and_is_a_failure(service: FakeService, capsys: pytest.CaptureFixture[str]) -> None:
    service.answer = {"refused": "at_kettle_only", "n": 7, "recorded": True}
    assert main(["tell", "thimble", "carry-on"]) == 1
    assert "needs somebody at the kettle" in capsys.readouterr().out


def test_what_could_not_be_recorded_is_said(service: FakeService, capsys: pytest.CaptureFixture[str]) -> None:
    service.answer = {"refused": None, "n": 7, "recorded": False}
    assert main(["tell", "thimble", "skip"]) == 0
    assert "could not be recorded" in capsys.readouterr().out


def test_stopping_heat_waits_for_no_record_and_so_says_nothing_of_one(
    service: FakeService, capsys: pytest.CaptureFixture[str]
) -> None:
    service.answer = {"refused": None, "n": 7, "recorded": False}
    assert main(["tell", "thimble", "stop-heat"]) == 0
    assert capsys.readouterr().out == "Taken.\n"


def test_no_service_is_one_line_and_a_failure(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tell", "thimble", "hold", "--state", str(tmp_path)]) == 1
    said = capsys.readouterr().err
    assert "no service listens there" in said
    assert "--state names its folder" in said


@pytest.mark.parametrize(
    "words",
    [
        ["hum"],
        ["extend"],
        ["extend", "soon"],
        ["extend", "5", "--step", "0"],
        ["draw-off", "maybe"],
        ["measured"],
        ["measured", "--gravity", "12"],
        ["confirm", "--litres", "nan"],
        ["retarget", "inf"],
    ],
)
def test_what_makes_no_sense_is_a_usage_error(words: list[str], service: FakeService) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["tell", "thimble", *words])
    assert ended.value.code == 2
    assert service.requests == []


def test_a_snapshot_comes_back_from_json_as_the_same_value() -> None:
    seen = replace(
        snapshot(),
        calls=(call(kind="ask", subject="lift", at_kettle=True),),
        probes=(ProbeView(probe=ProbeName("wall"), value_c=66.4, age_s=0.4, fault=None),),
    )
    again = json.loads(json.dumps(asdict(seen), default=plain))
    assert TypeAdapter(Snapshot).validate_python(again) == seen


def test_status_leads_with_the_sentence_and_names_what_can_be_answered(
    service: FakeService, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    seen = replace(snapshot(), calls=(call(kind="hoses", at_kettle=True),))
    service.answer = {"snapshot": json.loads(json.dumps(asdict(seen), default=plain))}
    assert main(["tell", "thimble", "status", "--state", str(tmp_path)]) == 0
    first, *rest = capsys.readouterr().out.splitlines()
    assert first == "Sugar rest: resting, 66.4 °C, 22 min left."
    assert any(line.startswith("at the kettle [0.hoses.0]: Clamp every hose") for line in rest)


def test_status_says_of_an_alarm_that_is_over_that_it_is() -> None:
    over = AlarmRecord(cause="no_fill", state=AlarmState.RETURNED_UNACKNOWLEDGED, safety=False, since_s=60.0)
    lines = list(status_lines(replace(snapshot(), alarms=(over,)), plan(), zone_time("UTC")))
    assert any(line.startswith("alarm [no_fill]: Over. ") for line in lines)
    assert not any("The heater stays off" in line for line in lines)


def test_status_with_the_plan_says_what_comes_next() -> None:
    first, *_ = status_lines(snapshot(), plan(), zone_time("UTC"))
    assert first.endswith("next: Lift.")


def test_a_gravity_is_bounded_as_the_core_bounds_it() -> None:
    assert tell.READS_SG == HYDROMETER_SG


HEAVY = (
    "pydantic",
    "jinja2",
    "starlette",
    "uvicorn",
    "numpy",
    "kettlebridge.app",
    "kettlebridge.core",
    "kettlebridge.files",
)

STOPS_HEAT = """
import sys
from kettlebridge.cli.main import main

main(["tell", "thimble", "stop-heat", "--state", sys.argv[1]])
print(*sys.modules)
"""


def test_stopping_heat_waits_for_nothing_to_load_but_what_it_needs(tmp_path: Path) -> None:
    ran = subprocess.run([sys.executable, "-c", STOPS_HEAT, str(tmp_path)], capture_output=True, text=True, check=True)
    assert "no service listens there" in ran.stderr
    loaded = set(ran.stdout.split())
    assert "kettlebridge.runtime.control_client" in loaded
    assert loaded.isdisjoint(HEAVY)
