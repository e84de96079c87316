"""Readings from the fermenter, days after the batch: a short transaction of its own, beside a service that runs."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from kettlebridge.journal import schema
from kettlebridge.journal.opening import open_to_write
from kettlebridge.journal.plain_words import why
from kettlebridge.model.errors import JournalError
from kettlebridge.model.fermentation import FermentReading
from kettlebridge.model.ids import BatchId

WAIT_S = 5.0
"""For a commit of the service."""

_KEY = "SELECT id FROM batch WHERE name = ?"
_INSERT = "INSERT INTO fermentation (batch, at_utc_s, read_sg, at_c, gravity_sg) VALUES (?, ?, ?, ?, ?)"


def add_reading(path: Path, program: str, batch: BatchId, reading: FermentReading) -> None:
    """On disk when it returns. Raises JournalError: no such batch, or it cannot be written."""
    if not path.is_file():
        raise JournalError(f"{path}: there is no such journal")
    _bring_up(path, program)
    try:
        connection = schema.connect(path, read_only=False, wait_s=WAIT_S)
        try:
            _insert(connection, path, batch, reading)
        finally:
            connection.close()
    except sqlite3.IntegrityError as error:
        raise JournalError(f"{path}: {batch} has a reading of that very time already") from error
    except sqlite3.Error as error:
        raise JournalError(f"{path}: {batch}: {why(error)}") from error


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


def _insert(connection: sqlite3.Connection, path: Path, batch: BatchId, reading: FermentReading) -> None:
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    row = connection.execute(_KEY, (batch,)).fetchone()
    if row is None:
        raise JournalError(f"{path}: there is no batch {batch}")
    values = (row[0], reading.at_utc_s, reading.read_sg, reading.at_c, reading.gravity_sg)
    connection.execute(_INSERT, values)
