"""Registers as temperatures: every encoding and word order, and what is no temperature."""

from __future__ import annotations

import math
import struct

import pytest

from kettlebridge.drivers.modbus.values import temperature_c
from kettlebridge.model.modbus_map import Area, Encoding, RegisterPlace, WordOrder
from kettlebridge.model.reading import ReadingFault
from kettlesim.wire_modbus.cells import Thermometer

HIGH, LOW = WordOrder.HIGH_FIRST, WordOrder.LOW_FIRST


def place(encoding: Encoding, **more: object) -> RegisterPlace:
    return RegisterPlace(unit=1, area=Area.INPUT_REGISTERS, address=0, encoding=encoding, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("encoding", "registers", "scale", "value_c"),
    [
        (Encoding.INT16, (664,), 0.1, 66.4),
        (Encoding.INT16, (0xFFF6,), 0.1, -1.0),
        (Encoding.UINT16, (0xFFF6,), 0.001, 65.526),
        (Encoding.INT32, (0xFFFF, 0xFFF6), 0.1, -1.0),
        (Encoding.UINT32, (0x0001, 0x0000), 0.001, 65.536),
        (Encoding.FLOAT32, (0x4284, 0xCCCD), 1.0, 66.4),  # IEEE 754 of 66.4
    ],
)
def test_each_encoding(encoding: Encoding, registers: tuple[int, ...], scale: float, value_c: float) -> None:
    assert temperature_c(place(encoding, scale=scale), registers) == pytest.approx(value_c, abs=1e-5)


def test_the_low_word_may_come_first() -> None:
    assert temperature_c(place(Encoding.FLOAT32, word_order=LOW), (0xCCCD, 0x4284)) == pytest.approx(66.4, abs=1e-5)


def test_a_range_may_begin_anywhere() -> None:
    assert temperature_c(place(Encoding.UINT16, scale=0.01, zero_c=-50.0), (11640,)) == pytest.approx(66.4)


@pytest.mark.parametrize("code", [0x7FFF, -0x8000])
def test_an_open_sensor_is_a_fault_and_no_temperature(code: int) -> None:
    open_sensor = place(Encoding.INT16, scale=0.1, open_codes=(0x7FFF, -0x8000))
    assert temperature_c(open_sensor, (code & 0xFFFF,)) is ReadingFault.SENSOR_OPEN


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_a_fault(number: float) -> None:
    registers = struct.unpack(">HH", struct.pack(">f", number))
    assert temperature_c(place(Encoding.FLOAT32), registers) is ReadingFault.NOT_A_NUMBER


@pytest.mark.parametrize("encoding", list(Encoding))
@pytest.mark.parametrize("order", [HIGH, LOW])
def test_the_simulated_module_s_registers_read_as_it_meant_them(encoding: Encoding, order: WordOrder) -> None:
    words = Thermometer(lambda: 66.4, encoding.value, 0.01, 0.0).words
    registers = words if order is HIGH else words[::-1]
    assert temperature_c(place(encoding, word_order=order, scale=0.01), registers) == pytest.approx(66.4, abs=1e-4)
