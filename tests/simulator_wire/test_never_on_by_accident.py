"""Whatever comes in on the wire, heat needs a claimed session and a fresh, valid demand of that session.

The oracle is the test's own: it knows the lease only from the frames that it sent and the answers that it got.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from hypothesis import example, given, settings
from hypothesis import strategies as st

from kettlesim.wire_serial.fittings import LATCHING, Input
from tests.simulator_wire.bench import BOOTED_MS, Bench, sealed

HOST_BYTES = st.sampled_from([*b"@*\r\n =0123456789ABCDEF", *b"QXCOANTvsethlkpzbo"])
NUMBERS = st.one_of(st.integers(0, 1), st.integers(0, 5001), st.integers(0, 2**32))


@dataclass(frozen=True)
class Say:
    """A well-sealed frame with "{sid}", "{boot}" and "{up}" to be filled in."""

    text: str


@dataclass(frozen=True)
class Wait:
    """Time passes."""

    ms: int


@dataclass(frozen=True)
class Touch:
    """The inputs."""

    inputs: Input


@dataclass(frozen=True)
class Reset:
    """A brown-out."""


demands = st.builds(
    "O s={} e={} ttl={} h={} p={} k={} z=0".format,
    st.sampled_from(["{sid}", "{sid}", "{sid}", "{old}", "0", "1"]),
    st.one_of(st.just("{up}"), st.just("{up}"), NUMBERS.map(str)),
    st.one_of(st.just(3000), NUMBERS),
    st.one_of(st.sampled_from([0, 0, 400, 1000]), NUMBERS),
    st.one_of(st.integers(0, 1), NUMBERS),
    st.one_of(st.integers(0, 1), NUMBERS),
)
says = st.one_of(demands, demands, st.sampled_from(["C v=1 boot={boot}", "C v=2 boot={boot}", "X", "Q v=1"])).map(Say)
moves = st.one_of(
    says,
    says,
    st.builds(Wait, st.sampled_from([1, 50, 200, 200, 700, 3000])),
    st.builds(Touch, st.sampled_from([Input(0), Input.FOAM, Input.FLOW, Input.STOP])),
    st.builds(Reset),
)


@given(st.lists(st.one_of(st.binary(max_size=120), st.lists(HOST_BYTES, max_size=120).map(bytes)), max_size=20))
def test_no_bytes_whatever_turn_a_pin_on_in_an_unclaimed_board(chunks: list[bytes]) -> None:
    bench = Bench()
    for chunk in chunks:
        bench.raw(chunk)
        bench.wait(100)
    assert bench.switched == []


@given(st.binary(max_size=200), st.integers(0, 200))
def test_noise_around_and_within_a_running_session_never_raises_the_heat(noise: bytes, cut: int) -> None:
    bench = Bench()
    bench.heat(0)
    demand = sealed(f"9 O s={bench.board.session:08X} e={bench.up_ms} ttl=3000 h=0 p=0 k=1 z=0")
    bench.raw(demand[:cut] + noise + demand[cut:])
    bench.wait(6000)
    assert "heater" not in {pin.value for _, pin, on in bench.switched if on}


@given(st.integers(1, 60), st.integers(0, 7))
def test_a_flipped_bit_never_becomes_another_demand(place: int, bit: int) -> None:
    bench = Bench()
    bench.heat(1)
    session, before = bench.board.session, bench.board.outputs.heater_permille()
    frame = bytearray(sealed(f"9 O s={session:08X} e={bench.up_ms} ttl=3000 h=100 p=0 k=1 z=0"))
    frame[place % len(frame)] ^= 1 << bit
    bench.raw(bytes(frame))
    assert bench.board.outputs.heater_permille() == before


class Oracle:
    """What a host may conclude from questions and answers alone."""

    def __init__(self) -> None:
        self.session: str | None = None
        self.old = "0"
        self.heat_until_ms = 0
        self.contactor_until_ms = 0
        self.drop()

    def drop(self) -> None:
        """Nothing may be on from here."""
        self.heat_until_ms = self.contactor_until_ms = 0

    def heard(self, text: str, kinds: list[str], sid: str | None, now_ms: int, up_ms: int) -> None:
        """A frame went in and these answers came out."""
        if text == "X":
            self.drop()
            self.session = None
        elif sid is not None:
            self.drop()
            self.old, self.session = self.session or "0", sid
        elif text.startswith("O") and "A" in kinds:
            self.accepted(text, now_ms, up_ms)

    def accepted(self, text: str, now_ms: int, up_ms: int) -> None:
        """A demand was accepted: it must have deserved it."""
        values = dict(re.findall(r"(\w+)=(\w+)", text))
        assert self.session is not None
        assert values["s"] == self.session
        age_ms, ttl_ms = up_ms - int(values["e"]), int(values["ttl"])
        assert 0 <= age_ms < ttl_ms <= 5000
        end_ms = now_ms + ttl_ms - age_ms
        self.heat_until_ms = end_ms if int(values["h"]) else 0
        self.contactor_until_ms = end_ms if int(values["k"]) else 0


@settings(max_examples=300, deadline=None)
@given(st.lists(moves, max_size=40))
@example(
    [
        Say("C v=1 boot={boot}"),
        Say("O s={sid} e={up} ttl=3000 h=0 p=0 k=1 z=0"),
        Wait(200),
        Say("O s={sid} e={up} ttl=3000 h=1000 p=0 k=1 z=0"),
        Wait(3000),
        Say("O s={sid} e={up} ttl=3000 h=1000 p=0 k=0 z=0"),
    ]
)
def test_heat_is_on_only_under_an_accepted_fresh_demand_of_the_claimed_session(
    plan: list[Say | Wait | Touch | Reset],
) -> None:
    bench = Bench()
    oracle = Oracle()
    for move in plan:
        match move:
            case Say(text):
                filled = text.format(
                    sid=oracle.session or "0", old=oracle.old, boot=f"{bench.board.boot:08X}", up=bench.up_ms
                )
                heard = [frame for frame in bench.say(filled) if frame.kind in ("A", "N")]
                sid = next((frame.values["sid"] for frame in heard if "sid" in frame.values), None)
                oracle.heard(filled, [frame.kind for frame in heard], sid, bench.now_ms, bench.up_ms)
            case Wait(ms):
                bench.wait(ms)
            case Touch(inputs):
                bench.press(inputs)
                if inputs & LATCHING:
                    oracle.drop()
            case Reset():
                bench.board.reboot("brown", bench.now_ms)
                bench.wait(BOOTED_MS)
                oracle.drop()
                oracle.session = None
        assert "heater" not in bench.on() or bench.now_ms < oracle.heat_until_ms
        assert "contactor" not in bench.on() or bench.now_ms < oracle.contactor_until_ms
