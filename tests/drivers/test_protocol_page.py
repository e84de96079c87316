"""The page for writers of firmware holds true against the codec and an independent CRC."""

from __future__ import annotations

import re
from binascii import crc_hqx

import pytest

from kettlebridge.drivers.serial_line.codec import FROM_BOARD, FROM_HOST, Decoder, Direction, Key, encode
from kettlebridge.drivers.serial_line.frames import Ability, Refusal, ResetCause
from kettlebridge.drivers.serial_line.values import FAULT_SPELLING
from kettlebridge.model.reading import BoardInput
from tests.drivers.vectors import PAGE, vectors

TEXT = PAGE.read_text(encoding="utf-8")
DIRECTION_OF = {kind.letter: direction for direction in (FROM_BOARD, FROM_HOST) for kind in direction.kinds}


def section(heading: str) -> str:
    return re.split(r"^#{2,3} ", TEXT.split(heading)[1], flags=re.MULTILINE)[0]


def test_crc_has_the_published_check_value() -> None:
    # CRC-16/CCITT-FALSE in the catalogue of parametrised CRC algorithms: check 0x29B1 over "123456789"
    assert crc_hqx(b"123456789", 0xFFFF) == 0x29B1
    assert "29B1" in TEXT


def test_every_kind_of_frame_has_a_vector() -> None:
    assert {line.split("*")[0].split()[1] for line in vectors()} == set(DIRECTION_OF)


@pytest.mark.parametrize("line", vectors())
def test_vector_carries_its_crc(line: str) -> None:
    body, _, crc = line[1:].rpartition("*")
    assert crc == f"{crc_hqx(body.encode(), 0xFFFF):04X}"


@pytest.mark.parametrize("line", vectors())
def test_vector_is_read_and_written_back_to_the_same_bytes(line: str) -> None:
    wire = line.encode() + b"\r\n"
    (heard,) = Decoder(DIRECTION_OF[line.split("*", maxsplit=1)[0].split()[1]]).feed(wire)
    assert encode(heard.seq, heard.frame) == wire


@pytest.mark.parametrize("direction", [FROM_BOARD, FROM_HOST])
def test_every_key_of_the_codec_is_explained(direction: Direction) -> None:
    for kind in direction.kinds:
        text = section(f"\n### {kind.letter}, ")
        names = [key.name for key in kind.keys if isinstance(key, Key)]
        assert [name for name in names if f"`{name}`" not in text] == [], kind.letter


def test_every_word_of_the_codec_is_explained() -> None:
    words = [reason.value for reason in Refusal] + [cause.value for cause in ResetCause] + list(FAULT_SPELLING.values())
    assert [word for word in words if f"`{word}`" not in TEXT] == []


@pytest.mark.parametrize(("heading", "flags"), [("\n### B, ", Ability), ("\n### T, ", BoardInput)])
def test_every_flag_is_explained_by_its_two_digits(heading: str, flags: type[Ability | BoardInput]) -> None:
    text = section(heading)
    assert [flag for flag in flags if f" {flag.value:02X} " not in text] == []


def test_limits_are_those_of_the_codec() -> None:
    assert f"| host to board | {FROM_HOST.limit_bytes} bytes" in TEXT
    assert f"| board to host | {FROM_BOARD.limit_bytes} bytes" in TEXT
