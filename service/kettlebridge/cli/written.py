"""Files that commands write: never over another one unasked, never over what they read, whole or not at all."""

from __future__ import annotations

import argparse
import secrets
import sys
from collections.abc import Iterable
from itertools import combinations
from pathlib import Path

from kettlebridge.model.errors import UsageError


def add_replace(parser: argparse.ArgumentParser | argparse._ArgumentGroup) -> None:
    """`--replace`."""
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")


class Written:
    """What one command writes. Raises UsageError, before any work is done, for a file that must not be written.

    `reads` are the files the command works from: they are never written over. With `aside` what is told goes to
    standard error, for a command whose output is one document.
    """

    def __init__(
        self,
        writes: Iterable[Path | None],
        *,
        reads: Iterable[Path | None] = (),
        replace: bool = False,
        aside: bool = False,
    ) -> None:
        self._replace = replace
        self._aside = aside
        wanted = [path for path in writes if path is not None]
        for path in wanted:
            if any(_same(path, read) for read in reads if read is not None):
                raise UsageError(f"{path} is what is read: name another file to write")
            self._may_be_written(path)
        for one, other in combinations(wanted, 2):
            if _same(one, other):
                raise UsageError(f"{other} is to be written twice: name two files")

    def write(self, path: Path, text: str) -> None:
        """Writes it beside its place, then moves it there. Raises UsageError."""
        place = path.resolve()  # a link stays, what it leads to is written
        fresh = place.with_name(f".{secrets.token_hex(8)}.part")
        try:
            fresh.write_text(text, encoding="utf-8")
            if place.exists():
                self._may_be_written(path)  # it came meanwhile
                fresh.chmod(place.stat().st_mode & 0o777)
            fresh.replace(place)
        except OSError as error:
            raise UsageError(f"{path} cannot be written: {error.strerror}") from error
        finally:
            fresh.unlink(missing_ok=True)
        print(f"Written: {path}", file=sys.stderr if self._aside else sys.stdout)

    def _may_be_written(self, path: Path) -> None:
        if not path.parent.is_dir():
            raise UsageError(f"{path} cannot be written: there is no folder {path.parent}")
        if not path.exists():
            return
        if not path.is_file():
            raise UsageError(f"{path} cannot be written: it is no file")
        if not self._replace:
            raise UsageError(f"{path} is there already: move it, name another, or say --replace")


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return one.resolve() == other.resolve()
