"""The `kettlebridge` command: which commands there are, and what becomes of what they raise."""

from __future__ import annotations

import argparse
import logging
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import Protocol, cast

from kettlebridge import __version__
from kettlebridge.cli.exits import FAILED, USAGE
from kettlebridge.documents.troubles import LINK_WORDS
from kettlebridge.model.errors import FileError, KettlebridgeError, LinkError, UsageError

INTERRUPTED = 130
"""What shells expect after Ctrl-C."""

NO_PLUGINS = {"PYDANTIC_DISABLE_PLUGINS": "__all__"}
"""Nobody else has a say in what a file means, and looking for them would read the description of every package."""


class CommandModule(Protocol):
    """One command."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """What it may be told."""

    def run(self, args: argparse.Namespace) -> int:
        """Does it and gives the exit code."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A command: its module is imported only when it is asked for, so that a service loads no simulator."""

    module: str
    help: str

    def load(self) -> CommandModule:
        """The module."""
        return cast("CommandModule", import_module(f"kettlebridge.cli.{self.module}"))


COMMANDS: dict[str, Row] = {
    "demo": Row(module="demo", help="a whole brew day on the simulator"),
    "serve": Row(module="serve", help="run kettles"),
    "all-off": Row(module="all_off", help="switch every output of kettles off, when no service does"),
    "tell": Row(module="tell", help="tell a running kettle something, or ask how it stands"),
    "bench": Row(module="bench", help="a profile on a simulated kettle as fast as it goes, with figures"),
    "import": Row(module="import_recipe", help="recipes in BeerXML or BeerJSON as recipe files"),
    "plan": Row(module="plan", help="the brew sheet of a recipe in a kettle, and the profile of that day"),
    "rescue": Row(module="rescue", help="what mends a day that went wrong, in litres, minutes and grams"),
    "check": Row(module="check", help="every mistake in kettle files, recipes and profiles"),
    "calibrate": Row(module="calibrate", help="a day with water, and what it says of a kettle file's figures"),
    "find": Row(module="find", help="what is connected, and a kettle file to start from"),
    "passphrase": Row(module="passphrase", help="who may see the page from the network, and tell kettles what"),
    "report": Row(module="report", help="the record of a batch as one HTML file"),
    "export": Row(module="export", help="the record of a batch for other programs"),
    "compare": Row(module="compare", help="batches side by side"),
    "repeat": Row(module="repeat", help="the profile of a batch as it really went, for the same beer again"),
    "replay": Row(module="replay_batch", help="run a batch through the core again and compare the events"),
    "notify-test": Row(module="notify_test", help="send one notification to every address of a service file"),
    "batches": Row(module="batches", help="what was brewed"),
    "after": Row(module="after", help="a batch beside its plan, and what to change in the kettle file"),
    "ferment": Row(module="ferment", help="gravities from the fermenter, and whether it is ready to package"),
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs the command that `arguments` (default: those of the process) name, and gives the exit code."""
    os.environ.update(NO_PLUGINS)
    given = list(sys.argv[1:] if arguments is None else arguments)
    if not given:
        parser(load=set()).print_help(sys.stderr)
        return USAGE
    args = parser(load=set(given)).parse_args(given)
    logging.basicConfig(format="%(message)s", level=logging.WARNING, stream=sys.stderr)
    try:
        return COMMANDS[args.command].load().run(args)
    except KettlebridgeError as error:
        print("\n".join(told(error)), file=sys.stderr)
        return USAGE if isinstance(error, FileError | UsageError) else FAILED
    except BrokenPipeError:
        sys.stderr.close()  # whoever read the output has gone: nothing more to say, to nobody
        return FAILED
    except KeyboardInterrupt:
        return INTERRUPTED


def parser(load: set[str]) -> argparse.ArgumentParser:
    """The whole grammar; of commands that are not in `load` only their names."""
    whole = argparse.ArgumentParser(
        prog="kettlebridge",
        description="Drives an electric brewing kettle through a mash and boil profile.",
        epilog="Exit codes: 0 done, 1 the work failed, 2 a command line or a file that cannot be used.",
    )
    whole.add_argument("--version", action="version", version=f"kettlebridge {__version__}")
    commands = whole.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, row in COMMANDS.items():
        one = commands.add_parser(name, help=row.help, description=f"{row.help[0].upper()}{row.help[1:]}.")
        if name in load:
            row.load().add_arguments(one)
    return whole


def told(error: KettlebridgeError) -> list[str]:
    """An expected fault as lines for a person."""
    if isinstance(error, FileError):
        return [str(mistake) for mistake in error.mistakes]
    if isinstance(error, LinkError):
        words = LINK_WORDS[error.reason.value]
        return [f"{words.happened} {error.detail}. {words.do}"]
    return [str(error)]
