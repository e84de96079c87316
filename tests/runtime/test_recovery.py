"""The fold of a record, the hash of its events, and where a replay parts from it."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from itertools import pairwise

import pytest

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.errors import JournalError
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.reading import UNLINKED
from kettlebridge.ports import TickEntry
from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlebridge.runtime.recovery import recover
from kettlebridge.runtime.replay import Difference, event_hash, replay
from tests.runtime.fakes import COPPER, COPPER_1, START_UTC_S, Bench, FakeCore, FakeJournal, command, plan, running


def inputs(k: int) -> Inputs:
    told = (command(CommandKind.START),) if k == 3 else ()
    return Inputs(now_s=float(k), at_utc_s=START_UTC_S + k, health=UNLINKED, commands=told)


def test_fold_of_the_record_is_the_state_that_was_lost() -> None:
    async def main(clock: PacedClock) -> None:
        journal = FakeJournal(clock)
        bench = Bench(clock, COPPER, journal)
        loop = bench.loop()
        journal.headers[COPPER_1] = loop.standing.header
        async with running(loop.run()):
            await bench.inbox.submit(command(CommandKind.START))
            await clock.sleep_until(500.5)
        standing = await recover(bench.fake.core, journal, COPPER)
        assert standing is not None
        assert standing.state == loop.standing.state
        assert standing.state.batch is BatchState.RUNNING
        assert standing.header is loop.standing.header

    run_paced(main, start_utc_s=START_UTC_S)


def test_others_have_their_turn_while_a_long_record_is_folded() -> None:
    async def main(clock: PacedClock) -> None:
        fake, journal = FakeCore(), FakeJournal(clock)
        journal.headers[COPPER_1] = Bench(clock).loop().standing.header
        journal.entries = [
            TickEntry(batch=COPPER_1, n=k, inputs=inputs(k), events=(), urgent=False) for k in range(1000)
        ]
        turns: list[int] = []

        async def other() -> None:
            while len(fake.inputs) < 1000:
                turns.append(len(fake.inputs))
                await asyncio.sleep(0)

        async with running(other()):
            await recover(fake.core, journal, COPPER)
        assert max(after - before for before, after in pairwise(turns)) <= 50

    run_paced(main)


def test_no_unfinished_batch_no_recovery() -> None:
    async def main(clock: PacedClock) -> None:
        assert await recover(FakeCore().core, FakeJournal(clock), COPPER) is None

    run_paced(main)


def test_record_with_a_gap_is_refused_with_the_place() -> None:
    ticks = [(k, inputs(k)) for k in range(10) if k != 7]
    with pytest.raises(JournalError, match="tick 7 is missing"):
        replay(FakeCore().core, plan(), ticks, ())


def events_of(core: FakeCore, count: int) -> list[tuple[int, Event]]:
    state, events = core.initial(plan()), []
    for k in range(count):
        ticked = core.tick(plan(), state, inputs(k))
        state = ticked.state
        events += [(k, event) for event in ticked.events]
    return events


def test_replay_of_an_honest_record_finds_no_difference() -> None:
    recorded = events_of(FakeCore(), 10)
    replayed = replay(FakeCore().core, plan(), [(k, inputs(k)) for k in range(10)], recorded)
    assert (replayed.ticks, replayed.difference) == (10, None)
    assert replayed.event_hash == event_hash(recorded)
    assert len(recorded) == 1


def test_replay_names_the_first_difference() -> None:
    (genuine,) = events_of(FakeCore(), 10)
    changed = (3, replace(genuine[1], code=EventCode.COMMAND_REFUSED))
    ticks = [(k, inputs(k)) for k in range(10)]
    cases = {
        (changed,): Difference(recorded=changed, replayed=genuine),
        (): Difference(recorded=None, replayed=genuine),
        (genuine, changed): Difference(recorded=changed, replayed=None),
    }
    for recorded, difference in cases.items():
        assert replay(FakeCore().core, plan(), ticks, recorded).difference == difference


def test_hash_covers_tick_code_names_and_values() -> None:
    event = Event(code=EventCode.STAGE, values=(("stage", "ramp"), ("target_c", 66.5)))
    others = [
        (1, event),
        (0, replace(event, code=EventCode.PROBE)),
        (0, replace(event, values=(("stage", "ramp"), ("target_c", 66.50000000000001)))),
        (0, replace(event, values=(("target_c", 66.5), ("stage", "ramp")))),
        (0, replace(event, values=(("stage", "ramp"), ("target_c", None)))),
    ]
    hashes = {event_hash([numbered]) for numbered in [(0, event), *others]}
    assert len(hashes) == 6


def test_hash_is_sha256_of_canonical_json_lines() -> None:
    event = Event(code=EventCode.STAGE, values=(("stage", "Läutern"), ("target_c", 66.5)))
    # sha256sum of: [7,"stage",[["stage","L\u00e4utern"],["target_c",66.5]]] and a line feed, with GNU coreutils
    assert event_hash([(7, event)]) == "a18c82f97dba19133e1622980b6d5ede3c08a217c7d5b46b2ac00617f07324d1"


def test_number_that_json_lacks_cannot_enter_the_hash() -> None:
    with pytest.raises(ValueError, match="JSON"):
        event_hash([(0, Event(code=EventCode.PROBE, values=(("value_c", float("nan")),)))])
