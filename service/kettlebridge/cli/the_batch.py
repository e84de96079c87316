"""The batch that a command is about."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from kettlebridge.app import CORE, JOURNAL_NAME, records_in
from kettlebridge.brewing.beside_plan import brewed_from
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.errors import UsageError
from kettlebridge.model.ids import BatchId
from kettlebridge.model.recipe import Recipe
from kettlebridge.model.trace import Trace
from kettlebridge.ports import BatchHeader, Records
from kettlebridge.runtime.traces import folded


def add_batch(parser: argparse.ArgumentParser) -> None:
    """`BATCH` and where its record is."""
    parser.add_argument("batch", metavar="BATCH", help="as `batches` lists it")
    add_state(parser)


def records_of(args: argparse.Namespace) -> Records:
    """The record that the batch is in."""
    return records_in(state_folder(args.state, os.environ))


def record_file(args: argparse.Namespace) -> Path:
    """Where that record is."""
    return state_folder(args.state, os.environ) / JOURNAL_NAME


def recipe_of(path: Path | None, header: BatchHeader) -> Recipe | None:
    """The recipe of the batch, if one is named. Raises FileError; UsageError: it is another beer's."""
    if path is None:
        return None
    recipe, profile = load_recipe(path), header.plan.profile
    if not brewed_from(recipe, profile):
        raise UsageError(
            f'{header.batch} was brewed from "{profile.name}", and {path} is "{recipe.name}" with other hops: '
            "its figures would be those of two beers"
        )
    return recipe


def header_and_trace(args: argparse.Namespace) -> tuple[BatchHeader, Trace]:
    """What the record opened with, and the course. Raises JournalError."""
    records = records_of(args)
    header = records.header(BatchId(args.batch))
    return header, folded(CORE, header, records)
