"""`batches`: what was brewed, newest first."""

from __future__ import annotations

import argparse
import json
import os
from dataclasses import asdict

from kettlebridge.app import JOURNAL_NAME, records_in
from kettlebridge.cli.exits import DONE
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.files.local_time import system_time
from kettlebridge.model.errors import UsageError
from kettlebridge.ports import BatchSummary


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `batches` may be told."""
    add_state(parser)
    parser.add_argument("--json", action="store_true", help="one JSON array instead of a table")


def run(args: argparse.Namespace) -> int:
    """Lists them. Raises JournalError for a record that cannot be read, UsageError for no folder."""
    folder = state_folder(args.state, os.environ)
    if args.state is not None and not folder.is_dir():
        raise UsageError(f"--state {folder}: there is no such folder")
    there = (folder / JOURNAL_NAME).exists()
    batches = records_in(folder).batches() if there else ()
    if args.json:
        print(json.dumps([asdict(batch) for batch in batches], default=lambda state: state.value, indent=2))
    elif not batches:
        print(f"Nothing has been brewed yet: there is no batch in {folder}")
    else:
        time = system_time()
        width = max(len(batch.batch) for batch in batches)
        for batch in batches:
            print(f"{batch.batch:{width}}  {time.date_hh_mm(batch.started_utc_s)}  {_words(batch)}")
    return DONE


def _words(batch: BatchSummary) -> str:
    ended = "Not finished" if batch.ended is None else STATE_WORDS[batch.ended].name
    gap = "" if batch.incomplete_from is None else f", record incomplete from tick {batch.incomplete_from}"
    return f"{batch.profile}: {ended}{gap}"
