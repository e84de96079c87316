"""A mosquitto for each test that asks for one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.drivers_mqtt.mosquitto import Mosquitto, mosquitto


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with mosquitto(tmp_path) as running:
        yield running
