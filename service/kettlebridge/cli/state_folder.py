"""Where a service keeps its record and its control socket."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

from kettlebridge.model.errors import UsageError

NAME = "kettlebridge"
STATE_HELP = "folder of the record and the control socket (default $XDG_STATE_HOME/kettlebridge, ~/.local/state/...)"


def add_state(parser: argparse.ArgumentParser) -> None:
    """`--state DIR`."""
    parser.add_argument("--state", type=Path, metavar="DIR", help=STATE_HELP)


def state_folder(given: Path | None, environment: Mapping[str, str]) -> Path:
    """The folder given, else that of the XDG base directory specification 0.8: relative paths in it do not count.

    Raises UsageError for a file in its place.
    """
    if given is not None:
        if given.exists() and not given.is_dir():
            raise UsageError(f"--state {given}: this is a file; name the folder that the record is in")
        return given
    base = Path(environment.get("XDG_STATE_HOME", ""))
    return base / NAME if base.is_absolute() else Path.home() / ".local" / "state" / NAME
