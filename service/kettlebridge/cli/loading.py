"""Kettle files and profiles as the commands take them: all mistakes of all of them at once, the fit included."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence

from kettlebridge.app import Assignment
from kettlebridge.cli.noted import read_or_noted
from kettlebridge.core.validation import misfits
from kettlebridge.documents.misfits import misfit
from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.supply import load_kettles
from kettlebridge.model.errors import FileError, Mistake, UsageError
from kettlebridge.model.plan import Profile

PathLike = str | os.PathLike[str]


def load_assignments(kettles: Sequence[PathLike], profiles: Mapping[str, PathLike]) -> tuple[Assignment, ...]:
    """The kettles, each with the profile named for it.

    Raises FileError with every mistake, UsageError for a profile that is meant for a kettle that is not there.
    """
    mistakes: list[Mistake] = []
    files = read_or_noted(load_kettles, kettles, mistakes) or ()
    loaded: dict[str, Profile] = {}
    for kettle, path in profiles.items():
        if (profile := read_or_noted(load_profile, path, mistakes)) is not None:
            loaded[kettle] = profile
    if not mistakes:
        _known(files, profiles)
        for file in files:
            name = file.kettle.name
            if name in loaded:
                mistakes += fit_mistakes(file, loaded[name], profiles[name])
    if mistakes:
        raise FileError(tuple(mistakes))
    return tuple(Assignment(file=file, profile=loaded.get(file.kettle.name)) for file in files)


def load_pair(kettle: PathLike, profile: PathLike) -> tuple[KettleFile, Profile]:
    """One kettle and the profile for it. Raises FileError with every mistake in either, or in their fit."""
    mistakes: list[Mistake] = []
    file, loaded = read_or_noted(load_kettle, kettle, mistakes), read_or_noted(load_profile, profile, mistakes)
    if file is not None and loaded is not None:
        mistakes += fit_mistakes(file, loaded, profile)
        if not mistakes:
            return file, loaded
    raise FileError(tuple(mistakes))


def fit_mistakes(file: KettleFile, profile: Profile, path: PathLike) -> tuple[Mistake, ...]:
    """Every reason why the profile of that path cannot run in the kettle."""
    return tuple(
        Mistake(
            path=os.fspath(path),
            line=None,
            key=_step_key(dict(reason.values).get("index")),
            what=f"does not fit {file.path}: {misfit(reason.code, reason.values)}",
        )
        for reason in misfits(file.kettle, profile)
    )


def _step_key(index: object) -> str:
    """The step as a person counts."""
    return f"step[{index + 1}]" if isinstance(index, int) else ""


def _known(files: Sequence[KettleFile], profiles: Mapping[str, PathLike]) -> None:
    there = [file.kettle.name for file in files]
    for name in profiles:
        if name not in there:
            raise UsageError(f"--profile {name}=...: no kettle {name} is loaded; there is {', '.join(there)}")
