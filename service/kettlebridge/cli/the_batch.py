"""The batch that a command is about."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from kettlebridge.app import CORE, JOURNAL_NAME, records_in
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.model.ids import BatchId
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


def header_and_trace(args: argparse.Namespace) -> tuple[BatchHeader, Trace]:
    """What the record opened with, and the course. Raises JournalError."""
    records = records_of(args)
    header = records.header(BatchId(args.batch))
    return header, folded(CORE, header, records)
