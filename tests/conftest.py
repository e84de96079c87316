"""No test may leave a task or a thread behind: a leak in a test is a heater loop nobody stops in service.

A log message that does not fit its arguments fails its test too: pytest's handler raises, and ``log_level`` in
pyproject.toml has every message formatted. Those that a library writes for each of its frames are not ours to check.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import threading
from collections.abc import AsyncIterator, Iterator

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None)
settings.load_profile("house")
"""How long a busy machine takes says nothing about the rule that is tried."""

FINISHING_S = 1.0
"""How long a thread that was told to end may take to do so."""

TALKATIVE = ("asyncio", "pymodbus")
"""What they say of each loop or frame took a sixth of a Modbus day's time. The MQTT driver mutes its library itself."""


def pytest_configure() -> None:
    """What imports and collection make stays; looking through it again and again took a fifth of their time."""
    gc.disable()


def pytest_collection_finish() -> None:
    """From here on garbage is collected, of what tests make."""
    gc.freeze()
    gc.enable()


@pytest.fixture(scope="session", autouse=True)
def libraries_write_from_warnings_on() -> None:
    """Text that nobody reads need not be made. What they warn of is still there."""
    for name in TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)


@pytest.fixture(autouse=True)
def no_thread_left() -> Iterator[None]:
    """Fail a test that leaves a thread."""
    before = set(threading.enumerate())
    yield
    left = [thread for thread in threading.enumerate() if thread not in before]
    for thread in left:
        thread.join(FINISHING_S)
    names = sorted(thread.name for thread in left if thread.is_alive())
    if names:
        pytest.fail(f"threads left running: {', '.join(names)}", pytrace=False)


@pytest.fixture(autouse=True)
def no_task_left_if_asynchronous(request: pytest.FixtureRequest, no_thread_left: None) -> None:
    """Guard tests that have a loop, and only those: a loop for each of the others would cost more than they do."""
    if request.node.get_closest_marker("asyncio") is not None:
        request.getfixturevalue("no_task_left")


@pytest.fixture
async def no_task_left() -> AsyncIterator[None]:
    """Fail a test whose loop still has unfinished tasks when all its other fixtures are gone."""
    before = asyncio.all_tasks()
    yield
    await asyncio.get_running_loop().shutdown_default_executor()  # asyncio.to_thread keeps idle threads: no leak
    here = asyncio.current_task()
    names = sorted(task.get_name() for task in asyncio.all_tasks() - before if task is not here)
    if names:
        pytest.fail(f"tasks left running: {', '.join(names)}", pytrace=False)
