"""What is told over MQTT, and where. Pure: a snapshot or an event in, messages out.

`BASE/status` is `online` or `offline` (retained, the last will). `BASE/KETTLE/state` is how things stand (retained),
`BASE/KETTLE/event` each thing that happens (not retained). Nothing below BASE is listened to: no command comes in.
"""

from __future__ import annotations

import json
from typing import Any

from kettlebridge.documents.sentences import leading
from kettlebridge.model.alarm import PRESENT, AlarmRecord
from kettlebridge.model.event import Event
from kettlebridge.model.ids import KettleId
from kettlebridge.model.mqtt import Message
from kettlebridge.model.snapshot import CallView, ProbeView, Snapshot

ONLINE = b"online"
OFFLINE = b"offline"
STATE_EXPIRES_S = 30
"""On a broker that speaks MQTT 5 a state that was not renewed for so long is gone."""


def status_topic(base: str) -> str:
    """Where it says whether the service is there."""
    return f"{base}/status"


def state_topic(base: str, kettle: KettleId) -> str:
    """Where it says how a kettle stands."""
    return f"{base}/{kettle}/state"


def status(base: str, *, online: bool) -> Message:
    """The service is there, or it is not."""
    return Message(topic=status_topic(base), payload=ONLINE if online else OFFLINE, retained=True)


def state(base: str, snapshot: Snapshot) -> Message:
    """How a kettle stands."""
    return Message(
        topic=state_topic(base, snapshot.kettle),
        payload=_json(state_values(snapshot)),
        retained=True,
        expiry_s=STATE_EXPIRES_S,
    )


def state_values(snapshot: Snapshot) -> dict[str, Any]:
    """The keys of a state, with the unit in each name; null where nothing is known."""
    step, outputs = snapshot.step, snapshot.outputs
    return {
        "says": leading(snapshot),
        "batch": snapshot.batch,
        "profile": snapshot.profile,
        "state": snapshot.state.value,
        "at_utc_s": round(snapshot.at_utc_s, 1),
        "temperature_c": _rounded(snapshot.temperature_c, 2),
        "bed_c": _rounded(snapshot.bed_c, 2),
        "target_c": None if step is None else _rounded(step.target_c, 2),
        "step": None if step is None else step.name,
        "step_number": None if step is None else step.index + 1,
        "remaining_min": None if step is None or step.remaining_s is None else round(step.remaining_s / 60.0, 1),
        "heater_percent": round(100.0 * outputs.heater_duty_fraction, 1),
        "pump": outputs.pump_on,
        "main_contactor": outputs.main_contactor_on,
        "volume_l": _rounded(snapshot.volume_l, 2),
        "energy_kwh": round(snapshot.energy_kwh, 3),
        "linked": snapshot.linked,
        "recorded": snapshot.recorded,
        "probes": {str(probe.probe): _probe(probe) for probe in snapshot.probes},
        "calls": [_call(call) for call in snapshot.calls if call.raised_s is not None],
        "alarms": [_alarm(record) for record in snapshot.alarms],
        "alarm": any(record.state in PRESENT for record in snapshot.alarms),
        "waiting": any(call.raised_s is not None for call in snapshot.calls),
    }


def event(base: str, snapshot: Snapshot, happened: Event) -> Message:
    """One thing that happened: its code and its values."""
    values = {
        "code": happened.code.value,
        "at_utc_s": round(snapshot.at_utc_s, 1),
        "batch": snapshot.batch,
        "values": dict(happened.values),
    }
    return Message(topic=f"{base}/{snapshot.kettle}/event", payload=_json(values))


def _probe(probe: ProbeView) -> dict[str, Any]:
    return {"value_c": _rounded(probe.value_c, 2), "age_s": _rounded(probe.age_s, 1), "fault": probe.fault}


def _call(call: CallView) -> dict[str, Any]:
    return {"id": call.id, "kind": call.kind, "subject": call.subject, "at_kettle": call.at_kettle}


def _alarm(record: AlarmRecord) -> dict[str, Any]:
    return {"cause": record.cause, "state": record.state.value, "safety": record.safety}


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _json(values: dict[str, Any]) -> bytes:
    return json.dumps(values, ensure_ascii=False, separators=(",", ":")).encode()
