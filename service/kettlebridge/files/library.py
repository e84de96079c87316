"""Recipes and profiles in folders, as they are at the moment: who writes a file there need not start anything anew."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Generic, Protocol, TypeVar

from kettlebridge.files.examples import config_folder
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.errors import FileError
from kettlebridge.model.plan import Profile
from kettlebridge.model.recipe import Recipe

log = logging.getLogger(__name__)

RECIPES, PROFILES = "recipes", "profiles"
MOST = 500
"""Files of a folder that are looked at."""


class Named(Protocol):
    """What a library holds."""

    @property
    def name(self) -> str:
        """As people call it."""


N = TypeVar("N", bound=Named)


class Shelf(Generic[N]):
    """Files of one kind; of two of one name, that of the earlier folder."""

    def __init__(self, folders: Sequence[Path], load: Callable[[Path], N]) -> None:
        self._folders = tuple(folders)
        self._load = load
        self._read: dict[Path, tuple[int, N]] = {}

    def names(self) -> tuple[str, ...]:
        """In their order; files that cannot be read are left out."""
        return tuple(sorted({one.name for one in self._all()}))

    def of(self, name: str) -> N | None:
        """The one of that name."""
        return next((one for one in self._all() if one.name == name), None)

    def _all(self) -> Iterator[N]:
        for folder in self._folders:
            for path in sorted(folder.glob("*.toml"))[:MOST]:
                one = self._at(path)
                if one is not None:
                    yield one

    def _at(self, path: Path) -> N | None:
        """Read once for each time that it was written."""
        try:
            written_ns = path.stat().st_mtime_ns
            known = self._read.get(path)
            if known is None or known[0] != written_ns:
                self._read[path] = known = (written_ns, self._load(path))
        except (OSError, FileError) as error:
            log.debug("library: %s is left out: %s", path, error)
            self._read.pop(path, None)
            return None
        return known[1]


class FolderLibrary:
    """Recipes and profiles, each under its own name."""

    def __init__(self, recipes: Sequence[Path], profiles: Sequence[Path] = ()) -> None:
        self._recipes = Shelf(recipes, load_recipe)
        self._profiles = Shelf(profiles, load_profile)

    def recipes(self) -> tuple[str, ...]:
        """Their names."""
        return self._recipes.names()

    def recipe(self, name: str) -> Recipe | None:
        """The one of that name, None where there is none any more."""
        return self._recipes.of(name)

    def profiles(self) -> tuple[str, ...]:
        """Their names."""
        return self._profiles.names()

    def profile(self, name: str) -> Profile | None:
        """The one of that name, None where there is none any more."""
        return self._profiles.of(name)


def recipe_folders(given: Sequence[Path], state: Path) -> tuple[Path, ...]:
    """Where recipes are, the examples last."""
    return (*(given or [state / RECIPES]), config_folder() / RECIPES)


def profile_folders(state: Path) -> tuple[Path, ...]:
    """Where profiles are, the examples last."""
    return (state / PROFILES, config_folder() / PROFILES)
