"""The signals that end a service."""

from __future__ import annotations

import asyncio
import logging
import signal
from collections.abc import Iterator
from contextlib import contextmanager

log = logging.getLogger(__name__)

ENDING_SIGNALS = (signal.SIGINT, signal.SIGTERM)


@contextmanager
def signals(stop: asyncio.Event) -> Iterator[None]:
    """An ending signal sets `stop`. Further ones change nothing: an end in haste would leave outputs to their lease."""
    loop = asyncio.get_running_loop()

    def stopping(name: str) -> None:
        log.info("%s: %s", name, "closing already" if stop.is_set() else "all outputs off, closing")
        stop.set()

    for number in ENDING_SIGNALS:
        loop.add_signal_handler(number, stopping, number.name)
    try:
        yield
    finally:
        for number in ENDING_SIGNALS:
            loop.remove_signal_handler(number)
