"""`serve`: runs kettles until a signal ends it."""

from __future__ import annotations

import argparse
import asyncio
import logging
import os
import sys
from collections.abc import Callable, Sequence
from contextlib import AbstractAsyncContextManager, nullcontext
from functools import partial
from pathlib import Path

from kettlebridge.app import Assignment, NothingToBrewError, Service, Setting, records_in, run_service
from kettlebridge.bridges import bridge_of, bridge_to_simulated
from kettlebridge.cli.begun_with import changed_words
from kettlebridge.cli.event_lines import EventLines
from kettlebridge.cli.exits import DONE
from kettlebridge.cli.fermenters import fermenters
from kettlebridge.cli.loading import load_assignments
from kettlebridge.cli.page_options import add_page, page_address
from kettlebridge.cli.ready_words import ready_words
from kettlebridge.cli.speeds import add_speed, limit
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.cli.tell_lines import tell_line
from kettlebridge.documents.refusals import refused
from kettlebridge.files.answering import nobody_can_answer
from kettlebridge.files.library import profile_folders, recipe_folders
from kettlebridge.files.local_time import ZoneTime, system_time
from kettlebridge.files.unattended import against_arming
from kettlebridge.model.errors import LinkReason, UsageError
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import Clock, LocalTime, Publisher
from kettlebridge.runtime.clock import RealClock, run_paced
from kettlebridge.runtime.service_manager import manager_of
from kettlebridge.runtime.stuck_guard import NoGuard, StuckGuard

log = logging.getLogger(__name__)

GoesOut = Callable[[Sequence[Kettle], Clock, LocalTime], AbstractAsyncContextManager[tuple[Publisher, ...]]]
"""What else listens to the kettles, at work for as long as it lasts."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `serve` may be told."""
    parser.add_argument("kettles", nargs="+", type=Path, metavar="KETTLE", help="kettle file")
    parser.add_argument(
        "--profile",
        action="append",
        default=[],
        metavar="NAME=FILE",
        help="what to brew in the kettle of that name; an unfinished batch goes on with its own plan instead, "
        "and without either it is chosen on the page",
    )
    add_state(parser)
    add_page(parser)
    parser.add_argument("--service", type=Path, metavar="FILE", help="service file: what goes out, and where to")
    add_speed(parser, default=None, help_words="hurry time; only for a board that says it is simulated")


def run(args: argparse.Namespace) -> int:
    """Serves. Nothing starts while a file has a mistake."""
    logging.getLogger("kettlebridge").setLevel(logging.INFO)
    assignments = load_assignments(args.kettles, _profiles(args.profile))
    for reason in filter(None, map(unready, assignments)):
        raise UsageError(reason)
    folder, time = state_folder(args.state, os.environ), system_time()
    kettles = [assignment.file.kettle for assignment in assignments]
    lines = EventLines(records_in(folder), partial(_say, time), kettles)
    outside = _nothing if args.service is None else _told_in(args.service)
    hurried = args.speed is not None

    async def serve(clock: Clock) -> None:
        files = [assignment.file for assignment in assignments]
        async with outside(kettles, clock, time) as listeners, fermenters(files, folder, clock):
            setting = Setting(
                clock=clock,
                folder=folder,
                time=time,
                bridges=bridge_to_simulated if hurried else bridge_of,
                guard=NoGuard() if hurried else StuckGuard(),
                listeners=(lines, *listeners),
                page=page_address(args),
                recipes=recipe_folders(args.recipes, folder),
                profiles=profile_folders(folder),
                hurried=hurried,
                manager=None if hurried else manager_of(os.environ),
            )
            await run_service(assignments, setting, partial(_until_stopped, assignments, setting, hurried=hurried))

    try:
        if hurried:
            run_paced(serve, speed=limit(args.speed), start_utc_s=RealClock().at_utc_s())
        else:
            asyncio.run(serve(RealClock()))
    except NothingToBrewError as error:
        raise UsageError(f"{error}: --profile NAME=FILE") from error
    log.info("closed")
    return DONE


async def _until_stopped(
    assignments: Sequence[Assignment], setting: Setting, service: Service, *, hurried: bool
) -> None:
    for assignment in assignments:
        log.info("%s: %s", assignment.file.kettle.name, _first_words(assignment, setting, service))
        note = nobody_can_answer(assignment.file)
        if note is not None:
            log.warning("Mind, %s.", note)
    if service.page_url is not None:
        log.info("the page: %s", service.page_url)
        if setting.page is not None and not setting.page.local and sys.stdout.isatty():
            _draw(service.page_url)
    for keeper in service.keepers.values():
        if hurried:
            error = await keeper.first_try()
            if error is not None and error.reason is LinkReason.NOT_SIMULATED:
                raise error
    await service.stop.wait()


def _nothing(
    _kettles: Sequence[Kettle], _clock: Clock, _time: LocalTime
) -> AbstractAsyncContextManager[tuple[Publisher, ...]]:
    return nullcontext(())


def _told_in(path: Path) -> GoesOut:
    """What a service file has go out; only one that is given loads what does it. Raises FileError."""
    from kettlebridge.cli.outside import outside  # noqa: PLC0415 - only where a file asks for it
    from kettlebridge.files.service_file import load_service  # noqa: PLC0415 - only where there is one

    return partial(outside, load_service(path))


def _draw(url: str) -> None:
    """For a telephone's camera."""
    import segno  # noqa: PLC0415 - only where there is somebody to see it

    segno.make(url).terminal(compact=True)


def _first_words(assignment: Assignment, setting: Setting, service: Service) -> str:
    """What becomes of a kettle now."""
    name, profile = assignment.file.kettle.name, assignment.profile
    unfinished = service.recovered.get(name)
    if unfinished is not None:
        plan = service.records.header(unfinished).plan
        aside = "" if profile is None else f'; "{profile.name}" is left aside'
        back = f'batch {unfinished} was not finished: it goes on with "{plan.profile.name}", paused, heat off{aside}'
        on = tell_line(setting.folder, name, "carry-on", "--code CODE")
        return f"{back}; at the kettle: {on}{changed_words(plan.kettle, assignment.file.kettle)}"
    if profile is None:
        return "nothing is running: choose a recipe or a profile on the page"
    ready = armed = ""
    if profile.ready_at is not None:
        ready = f", {ready_words(profile.ready_at, setting.time, setting.clock.at_utc_s())}"
        armed = f"; once it is filled: {tell_line(setting.folder, name, 'arm')}"
    start = tell_line(setting.folder, name, "start")
    return f'"{profile.name}"{ready}; start it with: {start}{armed}'


def unready(assignment: Assignment) -> str | None:
    """Why nothing can arm this kettle for the time it is to be ready at; None where that can be, or need not."""
    kettle, profile = assignment.file.kettle, assignment.profile
    bars = () if profile is None or profile.ready_at is None else against_arming(assignment.file)
    if not bars:
        return None
    words = refused(bars[0])
    return f"{kettle.name}: ready_at needs a kettle that can be armed. {words.why} {words.do}"


def _profiles(given: Sequence[str]) -> dict[str, str]:
    """By kettle. Raises UsageError."""
    profiles: dict[str, str] = {}
    for one in given:
        name, equals, path = one.partition("=")
        if not (name and equals and path):
            raise UsageError(f"--profile {one}: write it as NAME=FILE, with the name of the kettle")
        if name in profiles:
            raise UsageError(f"--profile {name}=...: given twice")
        profiles[name] = path
    return profiles


def _say(time: ZoneTime, snapshot: Snapshot, words: str) -> None:
    log.info("%s %s: %s", time.date_hh_mm(snapshot.at_utc_s), snapshot.kettle, words)
