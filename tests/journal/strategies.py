"""Strange values, for the tests of what must be lossless."""

from __future__ import annotations

from hypothesis import strategies as st

from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import CommandId, ProbeName
from kettlebridge.model.inputs import Inputs, Resumed
from kettlebridge.model.reading import BoardHealth, BoardInput, BoardStanding, BoardState, Reading, ReadingFault

# Any number at all, but with NaN apart: it is unlike itself, so tests that compare leave it out.
numbers = st.floats(allow_nan=False) | st.integers(-(2**70), 2**70)
names = st.text(max_size=12)
scalars = st.none() | st.booleans() | numbers | names

readings = st.builds(
    Reading,
    probe=names.map(ProbeName),
    value_c=st.none() | numbers,
    fault=st.none() | st.sampled_from(ReadingFault),
    age_s=numbers,
)
boards = st.builds(
    BoardState,
    acted_on=st.integers(0, 2**32 - 1),
    heater_permille=st.integers(0, 1000),
    heater_on_ms=st.integers(0, 2**40),
    pump_on=st.booleans(),
    main_contactor_closed=st.booleans(),
    lease_left_s=numbers,
    inputs=st.integers(0, 127).map(BoardInput),
    dropped_frames=st.integers(0, 5),
)
standings = st.builds(BoardStanding, name=names, linked=st.booleans()) | st.builds(
    BoardStanding,
    name=names,
    linked=st.booleans(),
    trouble=st.sampled_from(LinkReason),
    detail=names,
)
commands = st.builds(
    Command,
    id=names.map(CommandId),
    kind=st.sampled_from(CommandKind),
    who=names,
    at_kettle=st.booleans(),
    seen_n=st.none() | st.integers(0, 2**40),
    call=st.none() | names,
    alarm=st.none() | names,
    minutes=st.none() | numbers,
    target_c=st.none() | numbers,
    litres=st.none() | numbers,
    on=st.none() | st.booleans(),
    at_c=st.none() | numbers,
    gravity_sg=st.none() | numbers,
    brix=st.none() | numbers,
)
inputs = st.builds(
    Inputs,
    now_s=numbers,
    at_utc_s=numbers,
    readings=st.lists(readings, max_size=4).map(tuple),
    health=st.builds(
        BoardHealth,
        linked=st.booleans(),
        age_s=numbers,
        board=st.none() | boards,
        boards=st.lists(standings, max_size=3).map(tuple),
    ),
    commands=st.lists(commands, max_size=2).map(tuple),
    heater_limit_fraction=numbers,
    resumed=st.none() | st.builds(Resumed, away_s=numbers),
    journal_failing=st.booleans(),
    clock_synchronised=st.booleans(),
)
events = st.builds(
    Event,
    code=st.sampled_from(EventCode),
    values=st.lists(st.tuples(names, scalars), max_size=5).map(tuple),
)
