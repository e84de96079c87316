"""`all-off`: every output of kettles off, by a process that does nothing else. It needs no service, and ends none."""

from __future__ import annotations

import argparse
import asyncio
from collections.abc import Sequence
from pathlib import Path

from kettlebridge.bridges import switch_off
from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.documents.troubles import LINK_WORDS
from kettlebridge.files.bridge_views import MAIN
from kettlebridge.files.kettle_file import Board, KettleFile
from kettlebridge.files.supply import load_kettles
from kettlebridge.model.errors import LinkError
from kettlebridge.runtime.clock import RealClock


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `all-off` may be told."""
    parser.add_argument("kettles", nargs="+", type=Path, metavar="KETTLE", help="kettle file")


def run(args: argparse.Namespace) -> int:
    """Tells every board, and says which of them is known to be off. One that fails holds up no other."""
    files = load_kettles(args.kettles)
    return DONE if all(asyncio.run(_all_off(files))) else FAILED


async def _all_off(files: Sequence[KettleFile]) -> list[bool]:
    clock = RealClock()
    return await asyncio.gather(*(_off(file, board, clock) for file in files for board in file.boards))


async def _off(file: KettleFile, board: Board, clock: RealClock) -> bool:
    place = file.kettle.name if board.name == MAIN else f"{file.kettle.name}, {board.name}"
    try:
        await switch_off(file, board, clock)
    except LinkError as error:
        words = LINK_WORDS[error.reason.value]
        print(f"{place}: not certain: {words.happened} {error.detail}. Its lease ends the heat; see that it has.")
        return False
    print(f"{place}: all outputs off")
    return True
