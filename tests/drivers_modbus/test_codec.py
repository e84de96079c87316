"""Frames against well-known ones, and against the simulator's own encoder of the same wire."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.drivers.modbus.codec import (
    COIL_ON,
    GARBLED,
    Codec,
    Read,
    Request,
    Trouble,
    TroubleKind,
    WhoAreYou,
    Write,
)
from kettlebridge.model.modbus_map import Area
from kettlesim.wire_modbus.frames import crc16, heard, sealed

# Frames of the kind that every introduction to Modbus RTU shows for unit 17 (from memory; the CRC is checked below).
KNOWN: list[tuple[Request, str]] = [
    (Read(unit=17, area=Area.COILS, address=0x13, count=37), "11 01 0013 0025 0E84"),
    (Read(unit=17, area=Area.DISCRETE_INPUTS, address=0xC4, count=22), "11 02 00C4 0016 BAA9"),
    (Read(unit=17, area=Area.HOLDING_REGISTERS, address=0x6B, count=3), "11 03 006B 0003 7687"),
    (Read(unit=17, area=Area.INPUT_REGISTERS, address=8, count=1), "11 04 0008 0001 B298"),
    (Write(unit=17, area=Area.COILS, address=0xAC, value=COIL_ON), "11 05 00AC FF00 4E8B"),
    (Write(unit=17, area=Area.HOLDING_REGISTERS, address=1, value=3), "11 06 0001 0003 9A9B"),
]

units = st.integers(1, 247)
words = st.integers(0, 0xFFFF)


@pytest.mark.parametrize(("request_", "frame"), KNOWN)
def test_requests_are_the_known_frames(request_: Request, frame: str) -> None:
    assert Codec().encode(request_) == bytes.fromhex(frame)


@pytest.mark.parametrize("frame", [frame for _, frame in KNOWN])
def test_the_simulator_finds_the_known_checksums_by_its_own_sum(frame: str) -> None:
    data = bytes.fromhex(frame)
    assert sealed(data[:-2]) == data


def test_the_checksum_has_the_catalogue_s_check_value() -> None:
    assert crc16(b"123456789") == 0x4B37  # CRC-16/MODBUS in the CRC RevEng catalogue


@given(unit=units, address=words, value=words, area=st.sampled_from([Area.COILS, Area.HOLDING_REGISTERS]))
def test_the_simulator_reads_every_write(unit: int, address: int, value: int, area: Area) -> None:
    request = heard(Codec().encode(Write(unit=unit, area=area, address=address, value=value)))
    assert request is not None
    assert (request.unit, request.data) == (unit, address.to_bytes(2, "big") + value.to_bytes(2, "big"))


@given(unit=units, values=st.lists(words, min_size=1, max_size=125))
def test_registers_come_back_as_the_simulator_sends_them(unit: int, values: list[int]) -> None:
    body = bytes([unit, 3, 2 * len(values)]) + b"".join(value.to_bytes(2, "big") for value in values)
    read = Read(unit=unit, area=Area.HOLDING_REGISTERS, address=0, count=len(values))
    assert Codec().decode(read, sealed(body)) == tuple(values)


def test_bits_beyond_those_asked_for_are_left_out() -> None:
    read = Read(unit=17, area=Area.COILS, address=0x13, count=3)
    assert Codec().decode(read, sealed(bytes.fromhex("11 01 01 FD"))) == (1, 0, 1)


def test_half_an_answer_waits_for_its_other_half() -> None:
    read = Read(unit=1, area=Area.INPUT_REGISTERS, address=0, count=2)
    answer = sealed(bytes.fromhex("01 04 04 0001 0002"))
    for length in range(len(answer)):
        assert Codec().decode(read, answer[:length]) is None
    assert Codec().decode(read, answer) == (1, 2)


def test_an_exception_is_told_with_its_code() -> None:
    read = Read(unit=1, area=Area.INPUT_REGISTERS, address=0, count=2)
    refused = Codec().decode(read, sealed(bytes.fromhex("01 84 02")))
    assert refused == Trouble(kind=TroubleKind.REFUSED, code=2)
    assert str(refused) == "refuses with exception 2 (illegal data address)"


READ = Read(unit=1, area=Area.INPUT_REGISTERS, address=0, count=2)


@pytest.mark.parametrize(
    "answer",
    [
        pytest.param(bytes.fromhex("01 04 04 0001 0002 0000"), id="wrong CRC"),
        pytest.param(sealed(bytes.fromhex("02 04 04 0001 0002")), id="another unit"),
        pytest.param(sealed(bytes.fromhex("01 03 04 0001 0002")), id="another function"),
        pytest.param(sealed(bytes.fromhex("01 04 02 0001")), id="fewer registers"),
        pytest.param(sealed(bytes.fromhex("01 04 06 0001 0002 0003")), id="more registers"),
    ],
)
def test_an_answer_to_something_else_is_no_answer(answer: bytes) -> None:
    assert Codec().decode(READ, answer) == GARBLED


def test_a_write_is_answered_by_its_own_address_only() -> None:
    write = Write(unit=2, area=Area.COILS, address=0x200, value=7)
    assert Codec().decode(write, sealed(bytes.fromhex("02 05 0200 0007"))) == ()
    assert Codec().decode(write, sealed(bytes.fromhex("02 05 0201 0007"))) == GARBLED


def test_a_module_says_who_it_is() -> None:
    said = Codec().decode(WhoAreYou(unit=1), sealed(b"\x01\x11\x0akettlesim\xff"))
    assert said == tuple(b"kettlesim")


@given(data=st.binary(max_size=64))
def test_noise_never_raises_and_is_never_a_value(data: bytes) -> None:
    assert not isinstance(Codec().decode(READ, data), tuple) or data[:2] == b"\x01\x04"


def test_an_input_cannot_be_written() -> None:
    with pytest.raises(ValueError, match="cannot be written"):
        Codec().encode(Write(unit=1, area=Area.INPUT_REGISTERS, address=0, value=0))


def test_a_number_beyond_sixteen_bits_is_a_bug() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        Codec().encode(Write(unit=1, area=Area.COILS, address=0, value=1 << 16))
