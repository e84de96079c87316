"""Loading from text, and the mistakes that come of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.errors import FileError
from kettlebridge.model.plan import Profile


class Loader:
    """Writes a text into a file and loads it."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / "it.toml"

    def kettle(self, text: str) -> KettleFile:
        return load_kettle(self._written(text))

    def profile(self, text: str) -> Profile:
        return load_profile(self._written(text))

    def mistakes(self, load: Callable[[str], Any], text: str) -> list[str]:
        """The mistakes, one line each, without the folder of the file."""
        with pytest.raises(FileError) as caught:
            load(text)
        assert {mistake.path for mistake in caught.value.mistakes} == {str(self._path)}
        return [str(mistake).removeprefix(f"{self._path.parent}/") for mistake in caught.value.mistakes]

    def _written(self, text: str) -> Path:
        self._path.write_text(text, encoding="utf-8")
        return self._path
