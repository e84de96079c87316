"""ROM ids of 1-Wire probes."""

from __future__ import annotations

from kettlebridge.files.rom_id import crc8, rom_id_mistake


def test_check_byte_is_that_of_the_application_note() -> None:
    assert crc8(bytes.fromhex("021CB801000000")) == 0xA2  # Maxim application note 27, its example
    assert crc8(b"123456789") == 0xA1  # the check value of CRC-8/MAXIM


def test_right_ids_pass() -> None:
    assert rom_id_mistake("28A1B2C3040506B4") is None


def test_every_single_wrong_digit_is_found() -> None:
    right = "28A1B2C3040506B4"
    for at, digit in enumerate(right):
        for other in "0123456789ABCDEF".replace(digit, ""):
            assert rom_id_mistake(right[:at] + other + right[at + 1 :])


def test_sixteen_zeros_are_a_shorted_line_and_no_probe() -> None:
    assert rom_id_mistake("0" * 16)
