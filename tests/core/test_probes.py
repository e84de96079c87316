"""Which readings may be believed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.probes import (
    AGREE_COUNT,
    HELD_BACK_S,
    UNHEARD,
    Memories,
    ProbeMemory,
    control_memory,
    is_fresh,
    observe,
    observe_all,
    seats,
    value_c,
)
from kettlebridge.model.event import Event
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.kettle import Probe, ProbeRole
from kettlebridge.model.reading import Reading, ReadingFault
from tests.core.bench_kettle import KETTLE

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


def at(value_c: float, taken_s: float, memory: ProbeMemory, probe: Probe = WELL) -> ProbeMemory:
    """The memory after one value whose conversion ended then."""
    return observe(memory, probe, Reading(probe=probe.name, value_c=value_c, age_s=0.5), taken_s + 0.5)


def bad_at(taken_s: float, memory: ProbeMemory) -> ProbeMemory:
    reading = Reading(probe=WELL.name, fault=ReadingFault.BAD_CRC, age_s=0.5)
    return observe(memory, WELL, reading, taken_s + 0.5)


KNOWN = ProbeMemory(good_c=60.0, good_s=100.0, heard_s=100.0, last_s=100.0, recent_count=24)


@pytest.mark.parametrize("edge_c", [-10.0, 115.0])
def test_the_ends_of_the_range_are_within_it(edge_c: float) -> None:
    assert seen(*[edge_c] * 4).good_c == edge_c
    assert seen(*[edge_c * 1.001] * 4).good_c is None


@pytest.mark.parametrize(
    ("after_s", "allowed_c"), [(1.0, 2.5), (2.0, 3.0), (4.0, 4.0), (60.0, 4.0)], ids=["1 s", "2 s", "4 s", "a minute"]
)
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_two_degrees_and_half_a_degree_a_second_are_no_jump(after_s: float, allowed_c: float, sign: float) -> None:
    believed = at(60.0 + sign * allowed_c, 100.0 + after_s, KNOWN)
    assert (believed.good_c, believed.fault) == (60.0 + sign * allowed_c, None)
    held = at(60.0 + sign * (allowed_c + 0.01), 100.0 + after_s, KNOWN)
    assert (held.good_c, held.fault) == (60.0, "jump")


def test_a_conversion_is_another_one_from_a_twentieth_of_a_second_on() -> None:
    assert at(61.0, 100.05, KNOWN) is KNOWN
    assert at(61.0, 90.0, KNOWN) is KNOWN
    assert at(61.0, 100.06, KNOWN).good_c == 61.0


def test_jumps_agree_within_half_a_degree() -> None:
    assert seen(50.0, 50.5, 50.0, 50.5, memory=KNOWN).good_c == 50.5
    apart = seen(50.0, 50.51, 50.0, 50.51, memory=KNOWN)
    assert (apart.good_c, apart.suspect_count, apart.bad_streak) == (60.0, 1, 3)


def test_what_is_believed_is_all_that_a_good_reading_leaves() -> None:
    held = seen(50.0, 50.1, memory=KNOWN)
    assert (held.suspect_c, held.suspect_count, held.good_s) == (50.1, 2, 100.0)
    back = at(60.2, 110.0, held)
    assert back == ProbeMemory(good_c=60.2, good_s=110.0, heard_s=110.0, last_s=110.0, recent_count=24)


def test_a_jump_that_came_true_is_a_good_reading() -> None:
    memory = seen(50.0, 50.1, 50.2, memory=KNOWN)
    after = at(50.1, 120.0, memory)
    assert after == ProbeMemory(good_c=50.1, good_s=120.0, heard_s=120.0, last_s=120.0, recent_count=24)


def test_a_bad_reading_leaves_what_was_believed_and_what_is_held_back() -> None:
    held = seen(50.0, 50.1, memory=KNOWN)
    after = bad_at(110.0, held)
    assert after == held._replace(
        last_s=110.0, bad_streak=1, recent_bad=1, recent_count=24, fault="bad_crc", told="bad_crc"
    )
    assert seen(50.2, 50.1, memory=after).good_c == 50.1


def test_a_reading_without_value_and_fault_is_bad_and_says_so() -> None:
    after = observe(KNOWN, WELL, Reading(probe=WELL.name, age_s=0.5), 110.0)
    assert (after.good_c, after.fault, after.bad_streak) == (60.0, "no_value", 1)


def test_a_value_beside_a_fault_is_not_taken() -> None:
    both = Reading(probe=WELL.name, value_c=61.0, fault=ReadingFault.BAD_CRC, age_s=0.5)
    assert (observe(KNOWN, WELL, both, 110.0).good_c, observe(KNOWN, WELL, both, 110.0).fault) == (60.0, "bad_crc")


def test_no_more_than_24_readings_are_remembered_whatever_they_were() -> None:
    assert seen(*[60.0] * 30).recent_count == 24
    assert seen(*[ReadingFault.BAD_CRC] * 30).recent_count == 24
    assert seen(*[50.0, 70.0] * 15, memory=KNOWN).recent_count == 24
    assert seen(*[ReadingFault.BAD_CRC] * 30).recent_bad == 2**24 - 1
    assert seen(*[60.0] * 3).recent_count == 3
    assert seen(ReadingFault.BAD_CRC, ReadingFault.BAD_CRC).recent_count == 2


def test_each_of_the_last_24_has_its_place_and_the_oldest_is_forgotten() -> None:
    bad = ReadingFault.BAD_CRC
    assert seen(bad, 60.0, 60.1, bad, memory=KNOWN).recent_bad == 0b1001
    assert seen(bad, *[60.0] * 23, memory=KNOWN).recent_bad == 1 << 23
    assert seen(bad, *[60.0] * 24, memory=KNOWN).recent_bad == 0
    assert seen(50.0, 70.0, 70.1, 40.0, memory=KNOWN).recent_bad == 0b0101
    assert seen(bad, *[50.0, 50.1], memory=KNOWN).recent_bad == 0b100


def test_a_jump_that_agrees_with_nothing_counts_as_bad_and_is_not_heard() -> None:
    first = at(50.0, 101.0, KNOWN)
    assert (first.heard_s, first.bad_streak, first.suspect_count) == (101.0, 0, 1)
    wild = at(70.0, 102.0, first)
    assert (wild.heard_s, wild.bad_streak, wild.suspect_c, wild.suspect_count) == (101.0, 1, 70.0, 1)
    agreed = at(70.2, 103.0, wild)
    assert (agreed.heard_s, agreed.bad_streak, agreed.suspect_c, agreed.suspect_count) == (103.0, 0, 70.2, 2)


def test_before_anything_is_believed_a_probe_settles_and_later_it_jumps() -> None:
    assert seen(60.0).fault == "settling"
    assert seen(70.0, memory=KNOWN).fault == "jump"


class TestATrouble:
    """Told once, until the last 24 readings were good."""

    @staticmethod
    def told_of(*readings: Reading) -> list[str | None]:
        """What events say of WELL, one reading a second."""
        memories: Memories = (KNOWN, UNHEARD)
        said: list[str | None] = []
        for n, reading in enumerate(readings):
            memories, events = observe_all((WELL, ROOM), memories, (reading,), 101.0 + n)
            said += [event.get("fault") for event in events if event.get("probe") == WELL.name]  # type: ignore[misc]
        return said

    def test_is_told_by_its_first_name_and_over_after_24_good_ones(self) -> None:
        crc, silent = ReadingFault.BAD_CRC, ReadingFault.NO_ANSWER
        bad = [Reading(probe=WELL.name, fault=fault, age_s=0.5) for fault in (crc, silent, silent)]
        good = Reading(probe=WELL.name, value_c=60.0, age_s=0.5)
        assert self.told_of(*bad, *[good] * 23) == ["bad_crc"]
        assert self.told_of(*bad, *[good] * 24) == ["bad_crc", None]
        assert self.told_of(*bad, *[good] * 24, bad[1]) == ["bad_crc", None, "no_answer"]

    def test_is_not_forgotten_over_a_jump(self) -> None:
        bad = Reading(probe=WELL.name, fault=ReadingFault.BAD_CRC, age_s=0.5)
        jump = Reading(probe=WELL.name, value_c=50.0, age_s=0.5)
        assert self.told_of(bad, jump, jump, bad) == ["bad_crc"]


class TestPlaces:
    """Of several probes in one place the first counts, of those that only tell the first that was heard."""

    BESIDE = Probe(name=ProbeName("beside"), source="30", role=ProbeRole.SAME_PLACE)
    BACK = Probe(name=ProbeName("back"), source="31", role=ProbeRole.RETURN)

    @staticmethod
    def known(good_c: float | None) -> ProbeMemory:
        return ProbeMemory(good_c=good_c, recent_count=1)

    def test_the_first_control_probe_is_followed_even_if_it_is_silent(self) -> None:
        silent, other = self.known(None), self.known(60.0)
        assert seats((WELL, WELL), (silent, other)).control is silent
        assert control_memory((ROOM, WELL, WELL), (UNHEARD, silent, other)) is silent

    def test_the_first_probe_of_the_room_or_the_return_that_was_heard_tells(self) -> None:
        silent, first, second = self.known(None), self.known(18.0), self.known(19.0)
        seated = seats((ROOM, ROOM, ROOM), (silent, first, second))
        assert seated.ambient is first
        seated = seats((self.BACK, self.BACK, self.BACK), (silent, first, second))
        assert seated.returning is first
        assert value_c((ROOM, ROOM, ROOM), (silent, first, second), ProbeRole.AMBIENT, 20.0) == 18.0

    def test_each_is_seated_in_its_own_place(self) -> None:
        memories = tuple(self.known(c) for c in (1.0, 2.0, 3.0, 4.0, 5.0))
        seated = seats((self.BESIDE, WELL, self.BACK, ROOM, self.BESIDE), memories)
        assert (seated.control, seated.returning, seated.ambient) == memories[1:4]
        assert seated.beside == (memories[0], memories[4])

    def test_an_empty_place_was_never_heard(self) -> None:
        assert seats((), ()) == (UNHEARD, UNHEARD, None, ())

    def test_what_is_known_is_fresh_for_as_long_as_the_file_says(self) -> None:
        kettle = replace(KETTLE, safety=replace(KETTLE.safety, stale_after_s=3.0))
        assert is_fresh(kettle, (KNOWN,), 103.0)
        assert not is_fresh(kettle, (KNOWN,), 103.01)
        assert not is_fresh(kettle, (UNHEARD,), 0.0)


def test_a_probe_of_which_nothing_is_known_has_no_value_no_fault_and_no_past() -> None:
    assert tuple(UNHEARD) == (None, 0.0, None, None, 0, 0, 0, 0.0, 0, None, None)
    assert not UNHEARD.mostly_bad


def test_a_first_reading_near_nought_degrees_agrees_with_nothing_yet() -> None:
    assert seen(0.2).suspect_count == 1
    assert seen(0.2, 0.1, 0.2).good_c is None
    assert seen(0.2, 0.1, 0.2, 0.1).good_c == 0.1


def test_probes_and_memories_that_do_not_belong_together_are_a_bug_that_shows() -> None:
    for ask in (seats, control_memory, lambda probes, memories: value_c(probes, memories, ProbeRole.RETURN, 0.0)):
        with pytest.raises(ValueError, match="shorter"):
            ask((ROOM, ROOM), (UNHEARD,))


@pytest.mark.parametrize("level_s", [2, 3])
def test_a_probe_whose_jumps_are_held_back_for_ever_counts_as_heard_for_ten_seconds(level_s: int) -> None:
    memory = seen(*[60.0] * 4)
    wild = seen(*[30.0 if n // level_s % 2 else 90.0 for n in range(60)], memory=memory)
    assert wild.good_c == 60.0
    assert wild.heard_s is not None
    assert wild.heard_s - wild.good_s <= HELD_BACK_S
