"""`import FILE`: recipes in BeerXML or BeerJSON as recipe files, with a report of every field."""

from __future__ import annotations

import argparse
import json
import re
from collections import Counter
from dataclasses import asdict
from pathlib import Path

from rich.console import Console

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.field_report import ORDER, show_fields
from kettlebridge.cli.written import Written, add_replace
from kettlebridge.files.recipe_import import Imported, import_recipes

LONGEST_STEM = 60


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `import` may be told."""
    parser.add_argument("file", type=Path, help="BeerXML 1.0 or BeerJSON 1.0, one recipe or several")
    parser.add_argument("--into", type=Path, default=Path(), metavar="FOLDER", help="where to write (default: here)")
    add_replace(parser)
    parser.add_argument("--json", action="store_true", help="one JSON document instead of tables")


def run(args: argparse.Namespace) -> int:
    """Writes a recipe file for each recipe, never over another file unasked, and shows what became of each field.

    Raises FileError, with nothing written, when any recipe cannot be used; UsageError when a file cannot be written.
    """
    recipes = import_recipes(args.file)
    paths = _paths(recipes, args.into)
    written = Written(paths, reads=[args.file], replace=args.replace, aside=args.json)
    for path, recipe in zip(paths, recipes, strict=True):
        written.write(path, recipe.text)
    if args.json:
        print(json.dumps([_values(path, recipe) for path, recipe in zip(paths, recipes, strict=True)], indent=2))
    else:
        for path, recipe in zip(paths, recipes, strict=True):
            _show(path, recipe)
    return DONE


def _paths(recipes: tuple[Imported, ...], folder: Path) -> list[Path]:
    """Files named after their recipes; two of one name are numbered."""
    seen: Counter[str] = Counter()
    paths = []
    for recipe in recipes:
        stem = re.sub(r"[^a-z0-9]+", "_", recipe.recipe.name.lower()).strip("_")[:LONGEST_STEM] or "recipe"
        seen[stem] += 1
        paths.append(folder / (f"{stem}.toml" if seen[stem] == 1 else f"{stem}_{seen[stem]}.toml"))
    return paths


def _values(path: Path, recipe: Imported) -> dict[str, object]:
    notes = [{**asdict(note), "verdict": note.verdict.value} for note in recipe.notes]
    return {"file": str(path), "name": recipe.recipe.name, "fields": notes}


def _show(path: Path, recipe: Imported) -> None:
    console = Console()
    show_fields(console, recipe.recipe.name, recipe.notes)
    counts = Counter(note.verdict for note in recipe.notes)
    told = ", ".join(f"{counts[verdict]} {verdict.value}" for verdict in ORDER)
    console.print(f"{path}: {told}", markup=False, highlight=False, soft_wrap=True)
