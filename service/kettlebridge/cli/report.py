"""`report`: the record of a batch as one self-contained HTML file."""

from __future__ import annotations

import argparse
from pathlib import Path

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.the_batch import add_batch, header_and_trace
from kettlebridge.documents.report import report_page
from kettlebridge.files.local_time import system_time
from kettlebridge.model.errors import OperatorError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `report` may be told."""
    add_batch(parser)
    parser.add_argument("--html", type=Path, metavar="FILE", help="where to write (default BATCH.html here)")


def run(args: argparse.Namespace) -> int:
    """Writes it. Raises JournalError, OperatorError."""
    header, trace = header_and_trace(args)
    path = Path(f"{header.batch}.html") if args.html is None else args.html
    try:
        path.write_text(report_page(trace, header, system_time()), encoding="utf-8")
    except OSError as error:
        raise OperatorError(f"{path}: {error.strerror}") from error
    print(path)
    return DONE
