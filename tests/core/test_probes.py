"""Which readings may be believed."""

from __future__ import annotations

import pytest

from kettlebridge.core.probes import (
    AGREE_COUNT,
    UNHEARD,
    Memories,
    ProbeMemory,
    control_memory,
    observe,
    observe_all,
    value_c,
)
from kettlebridge.model.event import Event
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.kettle import Probe, ProbeRole
from kettlebridge.model.reading import Reading, ReadingFault

WELL = Probe(name=ProbeName("well"), source="28", role=ProbeRole.CONTROL)
ROOM = Probe(name=ProbeName("room"), source="29", role=ProbeRole.AMBIENT)


def seen(
    *values: float | ReadingFault, memory: ProbeMemory = UNHEARD, probe: Probe = WELL, every_s: float = 1.0
) -> ProbeMemory:
    """The memory after these readings, one every `every_s`."""
    begun_s = 0.0 if memory.last_s is None else memory.last_s + 0.4 + every_s
    for n, value in enumerate(values):
        if isinstance(value, ReadingFault):
            reading = Reading(probe=probe.name, fault=value, age_s=0.4)
        else:
            reading = Reading(probe=probe.name, value_c=value, age_s=0.4)
        memory = observe(memory, probe, reading, begun_s + n)
    return memory


def test_a_first_value_is_believed_once_four_agree() -> None:
    assert seen(*[60.0] * (AGREE_COUNT - 1)).good_c is None
    assert seen(*[60.0] * AGREE_COUNT).good_c == 60.0


def test_first_values_that_disagree_are_never_believed() -> None:
    assert seen(60.0, 61.0, 60.0, 61.0, 60.0, 61.0).good_c is None


@pytest.mark.parametrize("count", [1, 4, 40])
def test_85_is_no_first_value_however_often(count: int) -> None:
    assert seen(*[85.0] * count).good_c is None


def test_85_after_a_jump_is_never_believed_by_agreement() -> None:
    memory = seen(*[85.0] * 20, memory=seen(*[60.0] * 4))
    assert memory.good_c == 60.0
    assert memory.fault == "power_on_value"


def test_85_is_judged_before_calibration_and_a_neighbour_is_a_plain_jump() -> None:
    shifted = Probe(name=ProbeName("well"), source="28", role=ProbeRole.CONTROL, offset_c=0.5)
    memory = seen(*[60.0] * 4, probe=shifted)
    assert seen(*[85.0] * 8, memory=memory, probe=shifted).good_c == 60.5
    assert seen(*[84.5] * 8, memory=memory, probe=shifted).good_c == 85.0


def test_85_that_the_reading_before_leads_to_is_believed() -> None:
    assert seen(85.0, memory=seen(*[83.5] * 4)).good_c == 85.0


def test_a_jump_is_held_back_until_four_agree_on_it() -> None:
    memory = seen(*[60.0] * 4)
    assert seen(50.0, 50.1, 50.2, memory=memory).good_c == 60.0
    assert seen(50.0, 50.1, 50.2, 50.1, memory=memory).good_c == 50.1


def test_a_held_back_jump_keeps_the_probe_fresh_but_disagreeing_ones_do_not() -> None:
    memory = seen(*[60.0] * 4)
    held = seen(50.0, 50.1, memory=memory)
    assert held.heard_s == held.last_s
    wild = seen(50.0, 70.0, 40.0, 80.0, 30.0, memory=memory)
    assert wild.bad_streak == 4
    assert wild.heard_s is not None
    assert wild.last_s is not None
    assert wild.last_s - wild.heard_s == pytest.approx(4.0)


def test_a_quick_but_steady_climb_is_no_jump() -> None:
    assert seen(*[20.0 + 2.0 * n for n in range(20)], memory=seen(*[20.0] * 4)).good_c == 58.0


def test_two_point_calibration_is_applied() -> None:
    probe = Probe(name=ProbeName("well"), source="28", role=ProbeRole.CONTROL, gain=0.98, offset_c=1.5)
    assert seen(*[50.0] * 4, probe=probe).good_c == pytest.approx(50.5)


@pytest.mark.parametrize("value_c", [-10.1, 115.1, float("nan"), float("inf"), float("-inf")])
def test_out_of_range_is_bad_and_never_used(value_c: float) -> None:
    memory = seen(value_c, value_c, memory=seen(*[60.0] * 4))
    assert (memory.good_c, memory.bad_streak, memory.fault) == (60.0, 2, "out_of_range")


def test_a_good_reading_ends_a_streak() -> None:
    memory = seen(ReadingFault.BAD_CRC, ReadingFault.BAD_CRC, 60.0, memory=seen(*[60.0] * 4))
    assert (memory.bad_streak, memory.fault) == (0, None)


def test_mostly_bad_is_more_than_half_of_the_last_24_and_needs_eight() -> None:
    bad = ReadingFault.NO_ANSWER
    assert not seen(*[bad] * 7).mostly_bad
    assert seen(*[bad] * 8).mostly_bad
    alternating: list[float | ReadingFault] = [60.0, bad]
    half = seen(*alternating * 12, memory=seen(*[60.0] * 24))
    assert not half.mostly_bad
    assert seen(bad, bad, memory=half).mostly_bad
    assert not seen(*[60.0] * 12, memory=seen(*[bad] * 3, memory=half)).mostly_bad


def test_the_same_conversion_twice_counts_once() -> None:
    memory = seen(*[60.0] * 4)
    again = Reading(probe=WELL.name, fault=ReadingFault.BAD_CRC, age_s=2.4)
    assert observe(memory, WELL, again, 5.0) is memory


def test_each_probe_has_its_own_memory_and_strangers_are_ignored() -> None:
    readings = (
        Reading(probe=ROOM.name, value_c=18.0, age_s=0.1),
        Reading(probe=ProbeName("nobody"), value_c=99.0, age_s=0.1),
    )
    memories: Memories = (UNHEARD, UNHEARD)
    events: tuple[Event, ...] = ()
    for n in range(4):
        memories, events = observe_all((WELL, ROOM), memories, readings, float(n))
    assert memories[0] == UNHEARD
    assert value_c((WELL, ROOM), memories, ProbeRole.AMBIENT, 20.0) == 18.0
    assert value_c((WELL, ROOM), memories, ProbeRole.RETURN, 20.0) == 20.0
    assert events == ()


def test_a_kettle_without_a_control_probe_has_heard_nothing() -> None:
    assert control_memory((ROOM,), (UNHEARD,)) is UNHEARD
