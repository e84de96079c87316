"""A service at work, from the open record until all outputs are off and the record is closed."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from kettlebridge import __version__
from kettlebridge.app.doors import Doors, doors_of
from kettlebridge.app.expected import the_expected
from kettlebridge.app.record import JOURNAL_NAME
from kettlebridge.app.service import Service, built
from kettlebridge.app.setting import Assignment, Setting
from kettlebridge.app.signals import signals
from kettlebridge.journal.store import open_journal
from kettlebridge.model.errors import OperatorError
from kettlebridge.runtime.service_manager import keep_told
from kettlebridge.runtime.vital_tasks import VitalTasks
from kettlebridge.web.server import listening, serve_page

T = TypeVar("T")


async def run_service(
    assignments: Sequence[Assignment], setting: Setting, body: Callable[[Service], Awaitable[T]]
) -> T:
    """Runs the kettles for as long as `body` lasts; then all outputs are off and the record is closed.

    Raises JournalError, or OperatorError: the folder, its socket or the page's port cannot be used, or a kettle has
    nothing to brew.
    """
    _make_folder(setting.folder)
    journal = open_journal(setting.folder / JOURNAL_NAME, gate=setting.clock.gate("journal"), program=__version__)
    stop = asyncio.Event()
    with signals(stop), listening(setting.page, setting.folder) as page:
        async with journal:
            service = built(assignments, setting, journal, stop)
            if page is not None:
                service = replace(service, page_url=page.url)
            try:
                async with _told(setting, service.vital):
                    return await _running(service, doors_of(assignments, setting, service, page), body)
            except BaseExceptionGroup as group:
                raise the_expected(group) from None


@asynccontextmanager
async def _told(setting: Setting, vital: VitalTasks) -> AsyncIterator[None]:
    """Whoever manages this process hears of it meanwhile."""
    if setting.manager is None:
        yield
        return
    telling = asyncio.create_task(keep_told(setting.manager, vital, setting.clock), name="service manager")
    try:
        yield
    finally:
        telling.cancel()
        await asyncio.wait({telling})


async def _running(service: Service, doors: Doors, body: Callable[[Service], Awaitable[T]]) -> T:
    listens, page_ends = asyncio.Event(), asyncio.Event()
    async with asyncio.TaskGroup() as group:
        socket = group.create_task(doors.socket.serve(listens.set), name="control socket")
        await listens.wait()
        if doors.page is not None:
            group.create_task(serve_page(doors.page, doors.around, page_ends), name="page")
        keepers = [group.create_task(keeper.run(), name=f"{name}: keeper") for name, keeper in service.keepers.items()]
        try:
            return await body(service)
        finally:
            for keeper in keepers:
                keeper.cancel()
            if keepers:
                await asyncio.wait(keepers)  # they answer who still waits, and socket and page pass it on
            socket.cancel()
            page_ends.set()


def _make_folder(folder: Path) -> None:
    """The record is its owner's alone."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise OperatorError(f"{folder}: cannot be made: {error.strerror}") from error
