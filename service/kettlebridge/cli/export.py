"""`export`: the record of a batch for other programs."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.the_batch import add_batch, header_and_trace
from kettlebridge.documents.export import events_json, series_csv


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `export` may be told."""
    add_batch(parser)
    form = parser.add_mutually_exclusive_group(required=True)
    form.add_argument("--csv", action="store_true", help="the figures, a line every ten seconds")
    form.add_argument("--json", action="store_true", help="figures, steps and every event as one document")


def run(args: argparse.Namespace) -> int:
    """Prints it. Raises JournalError."""
    header, trace = header_and_trace(args)
    if args.csv:
        sys.stdout.write(series_csv(trace))
        return DONE
    document = {
        "batch": header.batch,
        "kettle": header.kettle,
        "profile": header.plan.profile.name,
        "started_utc_s": header.started_utc_s,
        "program": header.program,
        "series": asdict(trace.series),
        "steps": [asdict(span) | {"kind": span.kind.value} for span in trace.spans],
        "events": list(events_json(trace)),
    }
    print(json.dumps(document, indent=1, allow_nan=False))
    return DONE
