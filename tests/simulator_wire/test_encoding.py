"""The frames: vectors that all three ends of the wire share, and what a reader makes of noise."""

from __future__ import annotations

import binascii

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlesim.wire_serial.encoding import (
    HOST_FRAME_LIMIT,
    FrameReader,
    HostFrame,
    crc16,
    decode,
    encode,
)
from tests.simulator_wire.bench import sealed

# Sealed with Python's binascii.crc_hqx(text, 0xFFFF).
BOARD_VECTORS = [
    ("1 B v=1.0 id=28A4 boot=5C21E07A rc=por max=5000 cap=3F", "A666"),
    ("3 A sid=9F3A1C07", "3A67"),
    ("4 P t0=28A1B2C3040506B4 t1=28D4E5F6070809E6", "CE52"),
    ("9 T up=184460 s=9F3A1C07 t0=66.4375/310 t1=E2/310 h=350 on=90210 p=1 k=1 d=00 l=2410 n=0", "8CCC"),
    ("10 N why=stale", "1052"),
]
HOST_VECTORS = [
    (b"2 Q v=1*4A96", 2, "Q", {"v": 1}),
    (b"3 C v=1 boot=5C21E07A*F492", 3, "C", {"v": 1, "boot": 0x5C21E07A}),
    (
        b"10 O s=9F3A1C07 e=184460 ttl=3000 h=350 p=1 k=1 z=0*13A1",
        10,
        "O",
        {"s": 0x9F3A1C07, "e": 184460, "ttl": 3000, "h": 350, "p": 1, "k": 1, "z": 0},
    ),
    (b"12 X*A843", 12, "X", {}),
]


def test_checksum_has_the_published_check_value() -> None:
    assert crc16(b"123456789") == 0x29B1  # CRC catalogue of Greg Cook: CRC-16/IBM-3740, alias CCITT-FALSE


@given(st.binary(max_size=100))
def test_checksum_agrees_with_binascii(data: bytes) -> None:
    assert crc16(data) == binascii.crc_hqx(data, 0xFFFF)


@pytest.mark.parametrize(("text", "crc"), BOARD_VECTORS)
def test_board_frames_match_the_vectors(text: str, crc: str) -> None:
    seq, kind, *pairs = text.split(" ")
    split = [(key, value) for key, _, value in (pair.partition("=") for pair in pairs)]
    assert encode(int(seq), kind, split) == f"@{text}*{crc}\r\n".encode()


@pytest.mark.parametrize(("frame", "seq", "kind", "values"), HOST_VECTORS)
def test_host_frames_match_the_vectors(frame: bytes, seq: int, kind: str, values: dict[str, int]) -> None:
    assert decode(frame) == HostFrame(seq=seq, kind=kind, values=values)


@pytest.mark.parametrize(
    "text",
    [
        "5 C v=1",
        "5 C v=1 boot=1 boot=1",
        "5 C v=1 boot=1 more=1",
        "5 C v=one boot=1",
        "5 C v=1 boot=5c21e07a",
        "5 C v=1 boot=123456789",
        "5 C v=1 boot",
        "5 C v=1  boot=1",
        "5 Q v=1 v=1",
        "5 O s=1 e=4294967296 ttl=3000 h=0 p=0 k=0 z=0",
        "5 O s=1 e=-1 ttl=3000 h=0 p=0 k=0 z=0",
        "5 O s=1 e=1_0 ttl=3000 h=0 p=0 k=0 z=0",
        "5 O s=1 e=1 ttl=3000 h=0 p=0 k=0",
    ],
)
def test_a_missing_doubled_unknown_or_malformed_key_refuses_the_whole_frame(text: str) -> None:
    heard = decode(sealed(text)[1:-2])
    assert heard is not None
    assert heard.values is None


@pytest.mark.parametrize("text", ["5 Z", "70000 Q v=1", "x Q v=1", "Q v=1", "", "5 T up=1", "5 N why=key"])
def test_what_no_board_could_answer_is_passed_over(text: str) -> None:
    assert decode(sealed(text)[1:-2]) is None


@pytest.mark.parametrize("text", ["5 X", "70000 X", "x X", "5 X v=9", "5 X x", " X"])
def test_all_off_is_understood_whatever_else_the_frame_says(text: str) -> None:
    heard = decode(sealed(text)[1:-2])
    assert heard is not None
    assert heard.kind == "X"
    assert heard.values is not None


@pytest.mark.parametrize("frame", [b"12 X*A844", b"12 X*a843", b"12 X", b"12 X*A8430", b"1*2 X*A843", b"", b"*"])
def test_a_wrong_checksum_is_no_frame(frame: bytes) -> None:
    assert decode(frame) is None


def test_frames_are_found_however_the_bytes_are_cut() -> None:
    stream = b"noise\r\n" + sealed("1 X") + b"\xff\x00" + sealed("2 X")
    reader = FrameReader()
    whole = [frame for byte in stream for frame in reader.feed(bytes([byte]))]
    assert whole == [sealed("1 X")[1:-2], sealed("2 X")[1:-2]]
    assert reader.dropped == 0


def test_a_new_start_drops_what_was_begun() -> None:
    reader = FrameReader()
    assert list(reader.feed(b"@1 C v=1 bo" + sealed("2 X"))) == [sealed("2 X")[1:-2]]
    assert reader.dropped == 1


def test_the_longest_frame_passes_and_one_byte_more_is_dropped_whole() -> None:
    reader = FrameReader()
    longest = b"@" + b"a" * (HOST_FRAME_LIMIT - 3) + b"\r\n"
    assert len(longest) == HOST_FRAME_LIMIT
    assert list(reader.feed(longest)) == [longest[1:-2]]
    assert list(reader.feed(b"@a" + longest[1:])) == []
    assert reader.dropped == 1
    assert list(reader.feed(longest)) == [longest[1:-2]]


@pytest.mark.parametrize(
    "bad", [b"@12\x07 X*A843\r\n", b"@12 X*A843\n", b"@12 X*A843\rx\n", b"@12\r X*A843\r\n", b"@12 X\xe9\r\n"]
)
def test_a_frame_with_an_unprintable_byte_or_half_an_end_is_dropped(bad: bytes) -> None:
    reader = FrameReader()
    assert list(reader.feed(bad)) == []
    assert reader.dropped == 1


def test_the_longest_demand_fits() -> None:
    assert len(sealed("65535 O s=9F3A1C07 e=4294967295 ttl=5000 h=1000 p=1 k=1 z=255")) <= HOST_FRAME_LIMIT


def test_the_longest_report_of_eight_probes_fits() -> None:
    temps = [(f"t{index}", "-55.0000/65535") for index in range(8)]
    state = [("h", "1000"), ("on", "4294967295"), ("p", "1"), ("k", "1"), ("d", "7F"), ("l", "5000"), ("n", "99999")]
    longest = encode(65535, "T", [("up", "4294967295"), ("s", "9F3A1C07"), *temps, *state])
    assert len(longest) <= 240  # the limit of a board's line in docs/protocol.md
