"""What the service manager of the machine is told: ready, alive, closing. sd_notify(3), in five lines.

Its law: a ping is sent only by the loop itself, and only while every vital task is on time. Three pings fit into the
manager's limit; once they stop, it ends the process and starts it anew, with the heater off.
"""

from __future__ import annotations

import logging
import os
import socket
from collections.abc import Callable, Mapping
from typing import Never

from kettlebridge.ports import Clock
from kettlebridge.runtime.vital_tasks import VitalTasks

log = logging.getLogger(__name__)

Tell = Callable[[str], None]

PINGS_A_LIMIT = 4
DEFAULT_PING_S = 2.5


def notify(address: str, state: str) -> None:
    """Sends `state` to the socket at `address`; `@` stands for the abstract namespace. Raises OSError."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as out:
        out.setblocking(False)
        out.connect(f"\0{address[1:]}" if address.startswith("@") else address)
        out.send(state.encode())


class ServiceManager:
    """Whoever started this process and wants to hear of it; `ping_s` is how often."""

    def __init__(self, tell: Tell, ping_s: float = DEFAULT_PING_S) -> None:
        self.ping_s = ping_s
        self._tell = tell
        self._failing = False

    def say(self, state: str) -> None:
        """Never waits, never raises: a manager that does not listen costs one line in the log."""
        try:
            self._tell(state)
        except OSError as error:
            if not self._failing:
                log.warning("the service manager cannot be told: %s", error)
            self._failing = True
        else:
            self._failing = False


def manager_of(environment: Mapping[str, str]) -> ServiceManager | None:
    """As systemd names it in NOTIFY_SOCKET and WATCHDOG_USEC; None where nobody wants to hear.

    Both hold for the process they were made for: children of it must not inherit them (sd_notify(3)).
    """
    address = environment.get("NOTIFY_SOCKET", "")
    if not address.startswith(("/", "@")):
        return None
    limit_us = environment.get("WATCHDOG_USEC", "")
    meant_for = environment.get("WATCHDOG_PID", str(os.getpid()))
    wanted = limit_us.isascii() and limit_us.isdigit() and int(limit_us) > 0 and meant_for == str(os.getpid())
    ping_s = int(limit_us) / 1e6 / PINGS_A_LIMIT if wanted else DEFAULT_PING_S
    return ServiceManager(lambda state: notify(address, state), ping_s)


async def keep_told(manager: ServiceManager, vital: VitalTasks, clock: Clock) -> Never:
    """Says READY once every kettle was heard of, pings while all are on time, and STOPPING in the end."""
    ready = False
    known: tuple[str, ...] = ()
    try:
        while True:
            late = vital.late()
            if late != known:
                log.error("late: %s", ", ".join(late)) if late else log.warning("all vital tasks are on time again")
                manager.say(f"STATUS=Late: {', '.join(late)}" if late else "STATUS=All vital tasks on time")
            known = late
            if not ready and not vital.unseen:
                manager.say("READY=1\nSTATUS=All vital tasks on time")
                ready = True
            if not late:
                manager.say("WATCHDOG=1")
            await clock.sleep_until(clock.now_s() + manager.ping_s)
    finally:
        manager.say("STOPPING=1")
