"""`report`: the record of a batch as one self-contained HTML file."""

from __future__ import annotations

import argparse
from pathlib import Path

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.the_batch import add_batch, header_and_trace, record_file
from kettlebridge.cli.written import Written, add_replace
from kettlebridge.documents.report import report_page
from kettlebridge.files.local_time import system_time


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `report` may be told."""
    add_batch(parser)
    parser.add_argument("--html", type=Path, metavar="FILE", help="where to write (default BATCH.html here)")
    add_replace(parser)


def run(args: argparse.Namespace) -> int:
    """Writes it. Raises JournalError, UsageError."""
    path = Path(f"{args.batch}.html") if args.html is None else args.html
    written = Written([path], reads=[record_file(args)], replace=args.replace)
    header, trace = header_and_trace(args)
    written.write(path, report_page(trace, header, system_time()))
    return DONE
