"""`check`: every mistake in kettle files, recipes and profiles, each by itself and all together."""

from __future__ import annotations

import argparse
from enum import Enum
from pathlib import Path

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.loading import fit_mistakes
from kettlebridge.files.answering import nobody_can_answer
from kettlebridge.files.document import read_document
from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.files.supply import together_mistakes
from kettlebridge.model.errors import FileError, Mistake
from kettlebridge.model.plan import Profile
from kettlebridge.model.recipe import Recipe

KETTLE_KEYS = frozenset({"kettle", "bridge", "also", "probe", "relay", "input", "safety", "supply"})
PROFILE_KEYS = frozenset({"step", "water", "name", "ready_at"})
RECIPE_KEYS = frozenset({"grist", "hop", "mash", "boil", "yeast", "batch_l", "name"})
NO_KIND = "is neither a kettle file ([kettle]), nor a recipe ([[grist]]), nor a profile ([[step]])"


class FileKind(Enum):
    """What a file is, by what it holds."""

    KETTLE = "kettle"
    RECIPE = "recipe"
    PROFILE = "profile"


KEYS_OF = {FileKind.KETTLE: KETTLE_KEYS, FileKind.RECIPE: RECIPE_KEYS, FileKind.PROFILE: PROFILE_KEYS}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `check` may be told."""
    parser.add_argument(
        "files",
        nargs="+",
        type=Path,
        metavar="FILE",
        help="kettle files, recipes and profiles; each profile must fit each kettle",
    )


def run(args: argparse.Namespace) -> int:
    """Raises FileError with every mistake."""
    kettles: list[KettleFile] = []
    profiles: dict[Path, Profile] = {}
    recipes: dict[Path, Recipe] = {}
    mistakes: list[Mistake] = []
    for path in {path.resolve(): path for path in args.files}.values():
        try:
            kind = _kind(path)
            if kind is FileKind.KETTLE:
                kettles.append(load_kettle(path))
            elif kind is FileKind.RECIPE:
                recipes[path] = load_recipe(path)
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
    _say_right(kettles, recipes, profiles)
    return DONE


def _say_right(kettles: list[KettleFile], recipes: dict[Path, Recipe], profiles: dict[Path, Profile]) -> None:
    for file in kettles:
        print(f'{file.path}: kettle "{file.kettle.name}", no mistakes')
        note = nobody_can_answer(file)
        if note is not None:
            print(f"Mind, {note}.")
    for path, recipe in recipes.items():
        print(f'{path}: recipe "{recipe.name}", no mistakes')
    for path, profile in profiles.items():
        print(f'{path}: profile "{profile.name}", no mistakes{", fits" if kettles else ""}')


def _kind(path: Path) -> FileKind:
    """By what it holds. Raises FileError for a file that is none, or as much one as another."""
    document = read_document(path)
    known = {kind: len(document.data.keys() & keys) for kind, keys in KEYS_OF.items()}
    best = max(known.values())
    found = [kind for kind, count in known.items() if count == best]
    if len(found) > 1:
        raise FileError((document.mistake((), NO_KIND),))
    return found[0]
