"""`replay`: the same inputs through the core once more; the same build makes the same events of them."""

from __future__ import annotations

import argparse
import json

from kettlebridge import __version__
from kettlebridge.app import CORE
from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.cli.the_batch import add_batch, records_of
from kettlebridge.model.ids import BatchId
from kettlebridge.runtime.replay import NumberedEvent, replay


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `replay` may be told."""
    add_batch(parser)


def run(args: argparse.Namespace) -> int:
    """Says whether the events are the recorded ones, else the first difference. Raises JournalError."""
    records, batch = records_of(args), BatchId(args.batch)
    header = records.header(batch)
    replayed = replay(CORE, header.plan, records.ticks(batch), records.events(batch))
    print(f"{replayed.ticks} ticks, SHA-256 of the events {replayed.event_hash}")
    if replayed.difference is None:
        print("The same events as recorded.")
        return DONE
    print(f"Recorded: {_shown(replayed.difference.recorded)}\nReplayed: {_shown(replayed.difference.replayed)}")
    if header.program != __version__:
        print(f"It was recorded by version {header.program}; this is {__version__}, which may decide otherwise.")
    return FAILED


def _shown(numbered: NumberedEvent | None) -> str:
    if numbered is None:
        return "nothing more"
    n, event = numbered
    return f"tick {n}: {event.code.value} {json.dumps(dict(event.values))}"
