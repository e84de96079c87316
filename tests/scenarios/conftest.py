"""Whatever a scenario leaves on record must replay."""

from __future__ import annotations

import pytest

from tests.replaying import records_replay

__all__ = ["records_replay"]


@pytest.fixture(scope="module", autouse=True)
def every_record_replays(records_replay: None) -> None:
    """Of every scenario, wherever its day was lived."""
