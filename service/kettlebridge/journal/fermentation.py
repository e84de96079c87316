"""Readings from the fermenter, days after the batch: a short transaction of its own, beside a service that runs."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from kettlebridge.journal import schema
from kettlebridge.journal.opening import open_to_write
from kettlebridge.journal.plain_words import why
from kettlebridge.model.errors import JournalError
from kettlebridge.model.fermentation import FermentReading, ProbeReading
from kettlebridge.model.ids import BatchId

WAIT_S = 5.0
"""For a commit of the service."""

_KEY = "SELECT id FROM batch WHERE name = ?"
_INSERT = "INSERT INTO fermentation (batch, at_utc_s, read_sg, at_c, gravity_sg) VALUES (?, ?, ?, ?, ?)"
_INSERT_PROBE = "INSERT INTO fermenter (batch, at_utc_s, at_c, gravity_sg) VALUES (?, ?, ?, ?)"
_PACKAGED = "INSERT OR REPLACE INTO packaging (batch, at_utc_s) VALUES (?, ?)"


class SqliteFermentation:
    """Implements `ports.FermentationJournal`. `program`: this program's version, for what it has to say."""

    def __init__(self, path: Path, *, program: str) -> None:
        self._path = path
        self._program = program

    def add_reading(self, batch: BatchId, reading: FermentReading) -> None:
        """A gravity was measured by hand. Raises JournalError."""
        self._write(batch, _INSERT, (reading.at_utc_s, reading.read_sg, reading.at_c, reading.gravity_sg))

    def add_probe_reading(self, batch: BatchId, reading: ProbeReading) -> None:
        """A probe told something. Raises JournalError."""
        self._write(batch, _INSERT_PROBE, (reading.at_utc_s, reading.at_c, reading.gravity_sg))

    def set_packaged(self, batch: BatchId, at_utc_s: float) -> None:
        """The beer was packaged, at the time that was said last. Raises JournalError."""
        self._write(batch, _PACKAGED, (at_utc_s,))

    def _write(self, batch: BatchId, statement: str, values: tuple[float | None, ...]) -> None:
        if not self._path.is_file():
            raise JournalError(f"{self._path}: there is no such journal")
        _bring_up(self._path, self._program)
        try:
            connection = schema.connect(self._path, read_only=False, wait_s=WAIT_S)
            try:
                _insert(connection, self._path, batch, (statement, values))
            finally:
                connection.close()
        except sqlite3.IntegrityError as error:
            raise JournalError(f"{self._path}: {batch} has a reading of that very time already") from error
        except sqlite3.Error as error:
            raise JournalError(f"{self._path}: {batch}: {why(error)}") from error


def _bring_up(path: Path, program: str) -> None:
    """An older journal is migrated, by whoever alone writes to it."""
    try:
        connection = schema.connect(path, read_only=True)
        try:
            version = schema.version_of(connection, path, program)
        finally:
            connection.close()
    except sqlite3.Error as error:
        raise JournalError(f"{path}: {why(error)}") from error
    if version < len(schema.migrations()):
        open_to_write(path, program).close()


def _insert(
    connection: sqlite3.Connection, path: Path, batch: BatchId, row: tuple[str, tuple[float | None, ...]]
) -> None:
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    key = connection.execute(_KEY, (batch,)).fetchone()
    if key is None:
        raise JournalError(f"{path}: there is no batch {batch}")
    statement, values = row
    connection.execute(statement, (key[0], *values))
