"""`repeat BATCH`: the profile of a batch as it really went, for the same beer again."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.the_batch import add_batch, record_file, records_of
from kettlebridge.cli.written import Written, add_replace
from kettlebridge.core.repeated import Lived, repeated
from kettlebridge.core.state import initial
from kettlebridge.core.tick import tick
from kettlebridge.core.validation import misfits
from kettlebridge.documents.misfits import misfit
from kettlebridge.documents.repeat_words import note_words
from kettlebridge.files.profile_file import load_profile
from kettlebridge.files.profile_text import profile_text
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import Plan
from kettlebridge.ports import Records


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `repeat` may be told."""
    add_batch(parser)
    parser.add_argument(
        "--profile", type=Path, metavar="FILE", help="where to write the profile (default BATCH.toml here)"
    )
    add_replace(parser)


def run(args: argparse.Namespace) -> int:
    """Writes it, with what to know of it. Raises JournalError, UsageError; FileError: no such day may be asked for."""
    path = Path(f"{args.batch}.toml") if args.profile is None else args.profile
    written = Written([path], reads=[record_file(args)], replace=args.replace)
    records, batch = records_of(args), BatchId(args.batch)
    plan = records.header(batch).plan
    profile, notes = repeated(plan, lived(plan, records, batch))
    written.write(path, profile_text(profile))
    load_profile(path)
    for note in notes:
        print(note_words(note.code, note.values))
    for each in misfits(plan.kettle, profile):
        print(f"It does not fit {plan.kettle.name} as it is: {misfit(each.code, each.values)}.")
    return DONE


def lived(plan: Plan, records: Records, batch: BatchId) -> Iterator[Lived]:
    """The batch tick by tick. Raises JournalError."""
    state = initial(plan)
    for _, inputs in records.ticks(batch):
        ticked = tick(plan, state, inputs)
        yield Lived(before=state, after=ticked.state, inputs=inputs, events=ticked.events)
        state = ticked.state
