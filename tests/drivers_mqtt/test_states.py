"""How a relay stands by its node's word: on, off, or not told."""

from __future__ import annotations

import pytest

from kettlebridge.drivers.mqtt.codec import state_permille
from kettlebridge.model.demand import Output
from tests.drivers_mqtt.bench import relay_wire

PLUG = relay_wire(Output.HEATER)


def test_the_two_words_of_the_file_are_on_and_off() -> None:
    assert (state_permille(b"ON", PLUG), state_permille(b" OFF ", PLUG)) == (1000, 0)


@pytest.mark.parametrize("payload", [b"", b"on", b"On", b"true", b"1", b"offline", b"OFFON", b"\xff", b"null"])
def test_any_other_word_tells_nothing_least_of_all_that_it_is_off(payload: bytes) -> None:
    assert state_permille(payload, PLUG) is None
