"""What the tests of the trade's arithmetic share."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.files.loader import Loader


@pytest.fixture
def loader(tmp_path: Path) -> Loader:
    return Loader(tmp_path)
