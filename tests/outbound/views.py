"""Snapshots for tests to change one thing at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import BatchId, KettleId, ProbeName
from kettlebridge.model.plan import StepKind
from kettlebridge.model.snapshot import CallView, OutputsView, ProbeView, Snapshot, StepView

THIMBLE = load_kettle(config_folder() / "kettles" / "thimble.toml").kettle
STAGE = Event(code=EventCode.STAGE, values=(("index", 2), ("stage", "holding")))
LINK = AlarmRecord(cause="link", state=AlarmState.UNACKNOWLEDGED, safety=False, since_s=100.0)
OVER = AlarmRecord(cause="over_limit", state=AlarmState.UNACKNOWLEDGED, safety=True, since_s=100.0)
HOSES = CallView(id="2.hoses.0", kind="hoses", subject="", due_s=100.0, raised_s=100.0, at_kettle=True)

VIEW = Snapshot(
    kettle=KettleId("thimble"),
    batch=BatchId("thimble-20270115T080000"),
    profile="Quillet bitter",
    n=1200,
    now_s=1200.0,
    at_utc_s=1_800_000_000.0,
    state=BatchState.RUNNING,
    hold_cause=None,
    temperature_c=66.44,
    step=StepView(
        index=2,
        count=9,
        name="Sugar rest",
        kind=StepKind.REST,
        stage="hold",
        target_c=66.5,
        begun_s=900.0,
        remaining_s=1350.0,
    ),
    calls=(),
    probes=(
        ProbeView(probe=ProbeName("wall"), value_c=66.44, age_s=0.4, fault=None),
        ProbeView(probe=ProbeName("kitchen"), value_c=None, age_s=None, fault="no_answer"),
    ),
    outputs=OutputsView(
        heater_duty_fraction=0.125,
        heater_permille=125,
        pump_on=True,
        main_contactor_on=True,
        board_heater_permille=125,
        board_pump_on=True,
        board_main_contactor_closed=True,
    ),
    alarms=(),
    linked=True,
    volume_l=8.2,
    energy_kwh=0.731,
    recorded=True,
)


def view(**changes: Any) -> Snapshot:
    """The one above, changed."""
    return replace(VIEW, **changes)
