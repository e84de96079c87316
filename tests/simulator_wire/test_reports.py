"""What a board tells, and when."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest

from kettlesim.wire_serial.fittings import Fittings, Input
from kettlesim.wire_serial.pins import Pin
from kettlesim.wire_serial.probes import ProbeFault
from tests.simulator_wire.bench import Bench, Frame

BYTES_PER_S = 3840


def reports(frames: list[Frame]) -> list[Frame]:
    return [frame for frame in frames if frame.kind == "T"]


def test_a_report_comes_every_500_ms() -> None:
    bench = Bench()
    ups = [int(frame.values["up"]) for frame in reports(bench.wait(5000))]
    assert [later - earlier for earlier, later in itertools.pairwise(ups)] == [500] * 9


def test_a_report_says_how_everything_stands() -> None:
    bench = Bench()
    bench.wait(1000)
    bench.heat(350, p=1)
    bench.wait(100)
    told = bench.newest().values
    assert list(told) == ["up", "s", "t0", "t1", "h", "on", "p", "k", "d", "l", "n"]
    assert (told["h"], told["p"], told["k"], told["d"], told["n"]) == ("350", "1", "1", "00", "0")
    assert int(told["l"]) == 3000 - (int(told["up"]) - (bench.up_ms - 100))


@pytest.mark.parametrize("moment_ms", [0, 1, 79, 80, 250, 499])
@pytest.mark.parametrize("change", ["input", "claim", "heater", "pump", "all off"])
def test_a_change_is_told_within_100_ms(moment_ms: int, change: str) -> None:
    bench = Bench()
    bench.heat(ttl=5000)
    bench.wait(500 + moment_ms)
    before, mark = bench.newest().values, len(bench.sent)
    changes: dict[str, Callable[[], object]] = {
        "input": lambda: bench.press(Input.FLOW),
        "claim": lambda: (bench.say("X"), bench.claim()),
        "heater": lambda: bench.demand(h=300, k=1),
        "pump": lambda: bench.demand(h=1000, k=1, p=1),
        "all off": lambda: bench.say("X"),
    }
    changes[change]()
    bench.wait(100)
    told = reports(bench.sent[mark:])
    assert told
    keys = {"input": "d", "claim": "s", "heater": "h", "pump": "p", "all off": "h"}
    assert told[-1].values[keys[change]] != before[keys[change]]


def test_the_end_of_a_lease_is_told_within_100_ms() -> None:
    bench = Bench()
    bench.heat(ttl=1730)
    bench.wait(1729)
    assert bench.newest().values["s"] != "0"
    told = reports(bench.wait(101))
    assert told[0].values["s"] == "0"
    assert (told[0].values["h"], told[0].values["k"], told[0].values["l"]) == ("0", "0", "0")


def test_a_latched_press_shows_in_every_report_until_whoever_demands_has_heard_of_it() -> None:
    bench = Bench()
    bench.claim()
    before_ms = bench.up_ms
    bench.press(Input.STOP)
    bench.press(Input(0))

    def told(for_ms: int) -> set[str]:
        return {frame.values["d"] for frame in bench.wait(for_ms) if frame.kind == "T"}

    assert told(1000) == {"40"}
    assert bench.demand(e=before_ms) == "A"
    assert told(1000) == {"40"}
    assert bench.demand() == "A"
    assert told(100) == {"00"}


@pytest.mark.parametrize("held", [Input.STOP, Input.STOP | Input.FLOW, Input.CUTOUT | Input.LEVEL_LOW])
def test_an_input_that_is_held_shows_in_every_report_while_it_is_latched(held: Input) -> None:
    bench = Bench()
    bench.claim()
    bench.press(held)
    told = {frame.values["d"] for frame in reports(bench.wait(3000))}
    assert told == {f"{held.value:02X}"}


def test_the_shortest_press_of_a_button_shows_in_a_report_and_its_end_in_the_next() -> None:
    bench = Bench()
    bench.wait(730)
    mark = len(bench.sent)
    bench.press(Input.FLOW)
    bench.wait(10)
    bench.press(Input.CONFIRM)
    bench.wait(2)
    bench.press(Input(0))
    bench.wait(300)
    assert [frame.values["d"] for frame in reports(bench.sent[mark:])] == ["02", "20", "00"]


def test_a_flickering_input_never_fills_the_wire() -> None:
    bench = Bench(probes=8)
    bench.wait(1000)
    start = len(bench.sent)
    for moment_ms in range(2000):
        bench.press(Input.FLOW if moment_ms % 2 else Input(0))
        bench.wait(1)
    per_s = len(reports(bench.sent[start:])) / 2
    longest_report = 240
    assert per_s * longest_report < BYTES_PER_S * 0.85


def test_input_bits_stand_where_the_wire_puts_them() -> None:
    bits = [Input.LEVEL_LOW, Input.FLOW, Input.FOAM, Input.CUTOUT, Input.LOAD, Input.CONFIRM, Input.STOP]
    for place, bit in enumerate(bits):
        bench = Bench()
        bench.press(bit)
        bench.wait(500)
        assert int(bench.newest().values["d"], 16) == 1 << place


def test_a_temperature_is_a_sixteenth_of_a_degree_with_its_age_since_the_conversion() -> None:
    bench = Bench()
    bench.temps_c["probe0"] = 66.44
    told = reports(bench.wait(1000))[-1].values
    assert told["up"] == "1300"
    assert told["t0"] == "66.4375/250"
    bench.temps_c["probe0"] = 70.0
    told = reports(bench.wait(500))[-1].values
    assert told["t0"] == "70.0000/0"


def test_before_the_first_conversion_there_is_no_temperature() -> None:
    bench = Bench()
    assert bench.newest().values["t0"] == "E5/300"


@pytest.mark.parametrize(
    ("fault", "code"),
    [(ProbeFault.OPEN, "E1"), (ProbeFault.BAD_CRC, "E2"), (ProbeFault.LOST_POWER, "E4")],
)
def test_a_faulty_probe_tells_its_code_and_leaves_the_others_alone(fault: ProbeFault, code: str) -> None:
    bench = Bench()
    bench.board.bus.probes[0].fault = fault
    bench.wait(2000)
    told = bench.newest().values
    assert told["t0"].split("/")[0] == code
    assert told["t1"].split("/")[0] == "21.0000"
    bench.board.bus.probes[0].fault = None
    bench.wait(2000)
    assert bench.newest().values["t0"].split("/")[0] == "20.0000"


def test_a_short_takes_the_whole_bus_down() -> None:
    bench = Bench(probes=3)
    bench.board.bus.probes[1].fault = ProbeFault.SHORT
    bench.wait(2000)
    assert {bench.newest().values[f"t{index}"].split("/")[0] for index in range(3)} == {"E3"}


def test_a_stuck_probe_repeats_its_value_and_a_drifting_one_is_off() -> None:
    bench = Bench()
    stuck, drifting = bench.board.bus.probes
    stuck.stuck_c, drifting.offset_c = 85.0, -1.5
    bench.wait(2000)
    told = bench.newest().values
    assert (told["t0"].split("/")[0], told["t1"].split("/")[0]) == ("85.0000", "19.5000")


def test_a_temperature_beyond_the_part_is_held_to_its_range() -> None:
    bench = Bench()
    hot, cold = bench.board.bus.probes
    hot.offset_c, cold.offset_c = 500.0, -500.0
    bench.wait(2000)
    told = bench.newest().values
    assert [told[f"t{index}"].split("/")[0] for index in range(2)] == ["125.0000", "-55.0000"]


def test_a_replaced_probe_is_listed_before_its_next_report() -> None:
    bench = Bench()
    bench.board.bus.probes[0].rom = "28FFFFFFFFFFFF00"
    kinds = [frame.kind for frame in bench.wait(500)]
    assert kinds == ["P", "T"]
    assert bench.sent[-2].values["t0"] == "28FFFFFFFFFFFF00"


@pytest.mark.parametrize(("level", "told"), [(True, "1000"), (False, "0")])
def test_a_stuck_heater_pin_is_read_back_as_it_is(level: bool, told: str) -> None:
    bench = Bench()
    bench.heat(500)
    bench.board.stick(Pin.HEATER, level, bench.now_ms)
    bench.wait(100)
    assert bench.newest().values["h"] == told
    bench.say("X")
    assert ("heater" in bench.on()) is level
    bench.board.stick(Pin.HEATER, None, bench.now_ms)
    assert "heater" not in bench.on()


def test_board_frames_are_numbered_without_gaps() -> None:
    bench = Bench()
    bench.say("Q v=1")
    bench.wait(3000)
    numbers = [frame.seq for frame in bench.sent if frame.kind in ("B", "P", "T")]
    assert numbers == list(range(1, len(numbers) + 1))


def test_a_full_board_stays_within_the_longest_frame() -> None:
    bench = Bench(Fittings(first_up_ms=2**32 - 2000), probes=8)
    bench.temps_c.update(dict.fromkeys(bench.temps_c, -55.0))
    bench.heat(1000, ttl=5000, p=1)
    longest = 0
    for _ in range(30):
        bench.now_ms += 100
        longest = max([longest, *map(len, bench.board.poll(bench.now_ms))])
    assert 150 < longest <= 240
