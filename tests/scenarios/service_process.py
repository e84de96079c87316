"""A service in a process of its own, at speed 1, that heats a filled kettle and then misbehaves as told.

Prints `heating` once the board reads a heater that is on, and `misbehaves` just before it does.
"""

from __future__ import annotations

import argparse
import asyncio
import ctypes
import os
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

from kettlebridge.app import Assignment, Service, Setting, run_service
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.local_time import zone_time
from kettlebridge.files.profile_file import load_profile
from kettlebridge.journal.writer import Writer
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import CommandId, KettleId
from kettlebridge.runtime.clock import RealClock
from kettlebridge.runtime.service_manager import manager_of
from kettlebridge.runtime.stuck_guard import NoGuard, StuckGuard

STUCK_S = 30


def sleeps_in_the_loop(_service: Service) -> None:
    """A coroutine that never gives the loop back."""
    time.sleep(STUCK_S)


def holds_the_interpreter(_service: Service) -> None:
    """A call into C that keeps the interpreter's lock."""
    ctypes.PyDLL(None).sleep(STUCK_S)


def ticks_that_hang(service: Service) -> None:
    """The kettle's loop waits for something that never comes."""
    for keeper in service.keepers.values():
        keeper._charge.inbox.wake.wait = asyncio.Event().wait  # type: ignore[method-assign]  # a fault, put there


def writer_that_hangs(_service: Service) -> None:
    """The journal's thread waits for something that never comes, and not for the disk."""
    Writer._drain = lambda _: threading.Event().wait()  # type: ignore[method-assign, assignment]  # likewise


def behaves(_service: Service) -> None:
    """Nothing: whoever started this process does something to it."""


MISBEHAVIOUR: dict[str, Callable[[Service], None]] = {
    "none": behaves,
    "sleeps": sleeps_in_the_loop,
    "holds": holds_the_interpreter,
    "ticks_hang": ticks_that_hang,
    "writer_hangs": writer_that_hangs,
}


async def begin(service: Service, kettle: KettleId) -> None:
    """Starts the batch once it has a temperature, confirms the fill, and waits until the heater is on."""
    count = 0
    async for snapshot in service.snapshots.stream(kettle):
        count += 1
        if snapshot.outputs.board_heater_permille:
            return
        kind = CommandKind.CONFIRM if snapshot.calls else CommandKind.START
        if snapshot.step is None or not snapshot.step.stage or snapshot.calls:
            command = Command(id=CommandId(f"begin.{count}"), kind=kind, who="test", at_kettle=True)
            await service.commands.submit(kettle, command)


async def main(arguments: argparse.Namespace) -> None:
    """Runs until it is ended from outside or by its own misbehaviour."""
    file = load_kettle(arguments.kettle)
    assignment = Assignment(file=file, profile=load_profile(arguments.profile))
    setting = Setting(
        clock=RealClock(),
        folder=arguments.state,
        time=zone_time("UTC"),
        guard=NoGuard() if arguments.no_guard else StuckGuard(),
        manager=manager_of(os.environ),
    )

    async def body(service: Service) -> None:
        if file.kettle.name not in service.recovered:
            await begin(service, file.kettle.name)
            sys.stdout.write("heating\n")
            sys.stdout.flush()
            await asyncio.sleep(arguments.after_s)
            sys.stdout.write(f"misbehaves {time.monotonic()}\n")
            sys.stdout.flush()
            MISBEHAVIOUR[arguments.misbehave](service)
        await service.stop.wait()

    await run_service([assignment], setting, body)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("kettle", type=Path)
    parser.add_argument("profile", type=Path)
    parser.add_argument("state", type=Path)
    parser.add_argument("--misbehave", choices=MISBEHAVIOUR, default="none")
    parser.add_argument("--after-s", type=float, default=2.5)
    parser.add_argument("--no-guard", action="store_true", help="nothing in the process itself ends it")
    asyncio.run(main(parser.parse_args()))
