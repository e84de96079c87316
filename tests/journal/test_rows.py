"""Ticks and events as text and back."""

from __future__ import annotations

import dataclasses
import json
import math

import pytest
from hypothesis import given

from kettlebridge.journal import rows
from kettlebridge.journal.rows import decode_event, decode_inputs, encode_inputs, encode_values
from kettlebridge.model.command import Command
from kettlebridge.model.errors import JournalError
from kettlebridge.model.event import Event
from kettlebridge.model.inputs import Inputs, Resumed
from kettlebridge.model.reading import BoardHealth, BoardStanding, BoardState, Reading
from tests.journal import builders, strategies
from tests.journal.builders import inputs_at


@given(strategies.inputs)
def test_inputs_read_back_as_they_were_to_the_last_bit(inputs: Inputs) -> None:
    # repr tells -0.0 from 0.0, 1 from 1.0 and True from 1, where == does not.
    assert repr(decode_inputs(inputs.now_s, inputs.at_utc_s, encode_inputs(inputs))) == repr(inputs)


@given(strategies.events)
def test_events_read_back_as_they_were_in_their_order(event: Event) -> None:
    assert repr(decode_event(event.code.value, encode_values(event))) == repr(event)


def test_a_not_a_number_that_came_too_far_is_kept_for_whoever_looks_for_it() -> None:
    inputs = dataclasses.replace(inputs_at(1), readings=(Reading(probe=builders.MASH, value_c=math.nan, age_s=0.1),))
    value_c = decode_inputs(0.0, 0.0, encode_inputs(inputs)).readings[0].value_c
    assert value_c is not None
    assert math.isnan(value_c)


def test_an_ordinary_second_is_written_in_about_a_hundred_characters() -> None:
    text = encode_inputs(inputs_at(12_345))
    assert text == ('[1,[1,0.012,[12529460,350,4410960,1,1,2.41]],[["mash",71.5625,0.81],["mash",72.125,0.31]],1.0]')


@pytest.mark.parametrize(
    ("cls", "fields"),
    [
        (
            Inputs,
            "now_s at_utc_s readings health commands heater_limit_fraction resumed journal_failing clock_synchronised",
        ),
        (Resumed, "away_s"),
        (Reading, "probe value_c fault age_s"),
        (BoardHealth, "linked age_s board boards"),
        (BoardStanding, "name linked trouble detail"),
        (
            BoardState,
            "acted_on heater_permille heater_on_ms pump_on main_contactor_closed lease_left_s inputs dropped_frames",
        ),
        (Command, "id kind who at_kettle seen_n call alarm minutes target_c litres on at_c gravity_sg brix step_index"),
    ],
)
def test_every_field_of_what_a_tick_is_given_has_its_position(cls: type, fields: str) -> None:
    """A new field fails here until rows.py writes it: last, and left out while it says nothing."""
    assert [field.name for field in dataclasses.fields(cls)] == fields.split()
    for name in fields.replace("now_s at_utc_s ", "").split():
        assert name in (rows.__doc__ or "")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        "[2,[0,0.0],[],1.0]",
        "[1,[0,0.0],[]]",
        "[1,[2,0.0],[],1.0]",
        '[1,[0,"0"],[],1.0]',
        "[1,[0,0.0,[1,2,3]],[],1.0]",
        "[1,[0,0.0,[1,2,3,0,0,2.0,128,0]],[],1.0]",
        '[1,[0,0.0],[["mash",20.0]],1.0]',
        '[1,[0,0.0],[["mash",null,0.1,"tired"]],1.0]',
        '[1,[0,0.0],[],1.0,[["id","dance"]],null,false]',
        '[1,[0,0.0],[],1.0,[],"long",false]',
        "[1,[0,0.0],[],1.0,[],null,0]",
    ],
)
def test_a_row_that_is_not_as_written_is_refused(text: str) -> None:
    with pytest.raises(JournalError):
        decode_inputs(0.0, 0.0, text)


@pytest.mark.parametrize(
    ("code", "text"), [("trip", ""), ("trip", "[]"), ("trip", '{"a":[]}'), ("trip", "7"), ("no_such_code", "{}")]
)
def test_an_event_that_is_not_as_written_is_refused(code: str, text: str) -> None:
    with pytest.raises(JournalError):
        decode_event(code, text)


def test_an_events_values_are_plain_json() -> None:
    assert json.loads(encode_values(builders.step_begun(2))) == {
        "index": 2,
        "target_c": 66.0,
        "name": "Mash ½ 'n' more",
    }
