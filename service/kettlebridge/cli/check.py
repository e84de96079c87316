"""`check`: every mistake in kettle files and profiles, each by itself and all together."""

from __future__ import annotations

import argparse
from pathlib import Path

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.loading import fit_mistakes
from kettlebridge.files.document import read_document
from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.supply import together_mistakes
from kettlebridge.model.errors import FileError, Mistake
from kettlebridge.model.plan import Profile

KETTLE_KEYS = frozenset({"kettle", "bridge", "probe", "relay", "input", "safety", "supply"})
PROFILE_KEYS = frozenset({"step", "water", "name", "ready_at"})


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `check` may be told."""
    parser.add_argument(
        "files",
        nargs="+",
        type=Path,
        metavar="FILE",
        help="kettle files and profiles; each profile must fit each kettle",
    )


def run(args: argparse.Namespace) -> int:
    """Raises FileError with every mistake."""
    kettles: list[KettleFile] = []
    profiles: dict[Path, Profile] = {}
    mistakes: list[Mistake] = []
    for path in args.files:
        try:
            if _is_kettle(path):
                kettles.append(load_kettle(path))
            else:
                profiles[path] = load_profile(path)
        except FileError as error:
            mistakes += error.mistakes
    mistakes += together_mistakes(kettles)
    for path, profile in profiles.items():
        for file in kettles:
            mistakes += fit_mistakes(file, profile, path)
    if mistakes:
        raise FileError(tuple(mistakes))
    for file in kettles:
        print(f'{file.path}: kettle "{file.kettle.name}", no mistakes')
    for path, profile in profiles.items():
        print(f'{path}: profile "{profile.name}", no mistakes{", fits" if kettles else ""}')
    return DONE


def _is_kettle(path: Path) -> bool:
    """By what it holds. Raises FileError for a file that is neither."""
    document = read_document(path)
    keys = document.data.keys()
    as_kettle, as_profile = len(keys & KETTLE_KEYS), len(keys & PROFILE_KEYS)
    if as_kettle == as_profile:
        raise FileError((document.mistake((), "is neither a kettle file ([kettle]) nor a profile ([[step]])"),))
    return as_kettle > as_profile
