"""No test of the journal leaves a thread behind."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def no_writer_is_left() -> Iterator[None]:
    yield
    left = [thread for thread in threading.enumerate() if thread.name == "journal writer"]
    assert not left


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.db"
