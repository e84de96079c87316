"""`serve`, ended at once on its way up: `python -m tests.scenarios.exits_at STEP ARGUMENT...`, exit code 70.

Each step is a function that a start comes through; the process ends before it is called, or after it has returned.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import Any

from kettlebridge.app import running
from kettlebridge.cli import main as command
from kettlebridge.cli import serve
from kettlebridge.drivers.serial_line import handshake, link, session
from kettlebridge.runtime import control_socket, inbox, keeper, loop, service_manager

EXIT = 70

STEPS: dict[str, tuple[Any, str, bool]] = {
    "files loaded": (serve, "load_assignments", True),
    "journal opened": (running, "open_journal", True),
    "control socket opened": (control_socket.ControlSocket, "serve", False),
    "record read": (keeper, "recover", False),
    "keeper at work": (keeper.Keeper, "_keep_link", False),
    "port opened": (link, "open_line", False),
    "board asked": (handshake.Handshake, "join", False),
    "board known": (handshake.Handshake, "_checked", True),
    "board claimed": (link, "Session", False),
    "session begun": (inbox.KettleInbox, "linked", True),
    "first report": (inbox.KettleInbox, "hear", True),
    "first decision": (loop.TickLoop, "_inputs", True),
    "first demand": (link.SerialLine, "offer", False),
    "first order made": (session.Session, "order", True),
    "first order sent": (session.Session, "ordered", True),
    "first record": (loop.TickLoop, "_record", True),
    "first view": (loop.TickLoop, "_answer", False),
    "manager told": (service_manager.ServiceManager, "say", False),
}
"""In the order of a start: where the function is, its name, and whether the end comes after it."""


def end_at(step: str) -> None:
    """From now on that step is the last."""
    owner, name, after = STEPS[step]
    original: Callable[..., Any] = getattr(owner, name)

    def ends(*args: Any, **kwargs: Any) -> None:
        if after:
            original(*args, **kwargs)
        os._exit(EXIT)

    setattr(owner, name, ends)


if __name__ == "__main__":
    end_at(sys.argv[1])
    sys.exit(command.main(sys.argv[2:]))
