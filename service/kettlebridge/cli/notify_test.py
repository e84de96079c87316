"""`notify-test`: sends one notification to every address of a service file."""

from __future__ import annotations

import argparse
import asyncio
from pathlib import Path

from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.files.service_file import load_service
from kettlebridge.model.errors import UsageError
from kettlebridge.outbound.notifier import targets, tell
from kettlebridge.outbound.rules import Notice

TEST = Notice(title="Kettlebridge", text="A test. Nothing is wrong, and nothing needs doing.")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `notify-test` may be told."""
    parser.add_argument("service", type=Path, metavar="FILE", help="service file with a [notify] table")


def run(args: argparse.Namespace) -> int:
    """Sends, and says what got through."""
    wanted = load_service(args.service).notify
    if wanted is None:
        raise UsageError(f"{args.service}: there is no [notify] table in it")
    told = targets(wanted.urls)
    took = asyncio.run(tell(told, TEST))
    for target, well in zip(told, took, strict=True):
        print(f"{target.name}: {'sent' if well else 'did not get through'}")
    return DONE if all(took) else FAILED
