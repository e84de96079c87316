"""What is told over MQTT, by itself: topics, keys and values."""

from __future__ import annotations

import json

import pytest

from kettlebridge.outbound import telemetry
from tests.outbound.views import HOSES, LINK, STAGE, VIEW, view


def test_state_has_the_unit_in_each_name_and_null_for_what_is_unknown() -> None:
    message = telemetry.state("kettlebridge", VIEW)
    assert (message.topic, message.retained, message.expiry_s) == ("kettlebridge/thimble/state", True, 30)
    told = json.loads(message.payload)
    assert told["temperature_c"] == 66.44
    assert told["target_c"] == 66.5
    assert told["remaining_min"] == 22.5
    assert told["heater_percent"] == 12.5
    assert told["probes"]["kitchen"] == {"value_c": None, "age_s": None, "fault": "no_answer"}
    assert told["bed_c"] is None
    assert told["says"].startswith("Sugar rest")
    assert (told["alarm"], told["waiting"]) == (False, False)


def test_open_call_and_alarm_are_in_the_state() -> None:
    told = json.loads(telemetry.state("kettlebridge", view(calls=(HOSES,), alarms=(LINK,))).payload)
    assert told["calls"] == [{"id": "2.hoses.0", "kind": "hoses", "subject": "", "at_kettle": True}]
    assert told["alarms"] == [{"cause": "link", "state": "unacknowledged", "safety": False}]
    assert (told["alarm"], told["waiting"]) == (True, True)


def test_state_before_anything_is_known_is_still_json() -> None:
    told = json.loads(telemetry.state("k", view(step=None, temperature_c=None, volume_l=None, probes=())).payload)
    assert [told[key] for key in ("temperature_c", "target_c", "step", "remaining_min", "volume_l")] == [None] * 5


def test_event_is_told_once_and_never_retained() -> None:
    message = telemetry.event("kettlebridge", VIEW, STAGE)
    assert (message.topic, message.retained) == ("kettlebridge/thimble/event", False)
    assert json.loads(message.payload)["values"] == {"index": 2, "stage": "holding"}


@pytest.mark.parametrize(("online", "word"), [(True, b"online"), (False, b"offline")])
def test_status_is_a_retained_word(online: bool, word: bytes) -> None:
    message = telemetry.status("kettlebridge", online=online)
    assert (message.topic, message.payload, message.retained) == ("kettlebridge/status", word, True)
