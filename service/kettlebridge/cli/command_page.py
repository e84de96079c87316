"""The commands of docs/commands.md: `python -m kettlebridge.cli.command_page docs/commands.md` renews them in place."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator

from kettlebridge.cli.main import COMMANDS, parser
from kettlebridge.files.renewal import renew

_PLACE = re.compile(r"(<!-- commands, generated -->\n).*?(<!-- end of commands -->)", re.DOTALL)
WIDTH = 100


def renewed(page: str) -> str:
    """The page with what stands between its markers made afresh."""
    return _PLACE.sub(lambda place: f"{place[1]}\n{commands_text()}\n\n{place[2]}", page)


def commands_text() -> str:
    """Every command with its help."""
    return "\n\n".join(f"## {name}\n\n```\n{text}\n```" for name, text in _helps(parser(load=set(COMMANDS))))


def _helps(whole: argparse.ArgumentParser) -> Iterator[tuple[str, str]]:
    for name, one in subcommands(whole).items():
        yield f"kettlebridge {name}", _help(one)
        for word, inner in subcommands(one).items():
            yield f"kettlebridge {name} ... {word}", _help(inner)


def subcommands(one: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The commands of a command, by name."""
    found: dict[str, argparse.ArgumentParser] = {}
    for action in one._actions:  # noqa: SLF001 - argparse tells of its own grammar nowhere else
        if isinstance(action, argparse._SubParsersAction):  # noqa: SLF001
            found |= action.choices
    return found


def _help(one: argparse.ArgumentParser) -> str:
    one.formatter_class = lambda prog: argparse.HelpFormatter(prog, width=WIDTH)
    return one.format_help().rstrip()


if __name__ == "__main__":
    renew(sys.argv[1], renewed)
