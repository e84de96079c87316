"""Opening a journal to write: one writer at a time, and nothing touched until the file is known to be ours."""

from __future__ import annotations

import fcntl
import os
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from kettlebridge.journal import schema
from kettlebridge.journal.plain_words import why
from kettlebridge.model.errors import JournalError


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A journal that this process alone writes, until `close`."""

    connection: sqlite3.Connection
    lock: int

    def close(self) -> None:
        """Closes the database, then lets the next writer in. Raises sqlite3.Error."""
        try:
            self.connection.close()
        finally:
            os.close(self.lock)


def open_to_write(path: Path, program: str) -> Opened:
    """Makes the journal if there is none, and migrates an older one. Raises JournalError, the file as it was."""
    if sqlite3.sqlite_version_info < schema.OLDEST_SQLITE:
        raise JournalError(f"this Python has SQLite {sqlite3.sqlite_version}; a journal needs 3.37 or newer")
    if not path.parent.is_dir():
        raise JournalError(f"{path}: there is no folder {path.parent}")
    if path.exists() and not path.is_file():
        raise JournalError(f"{path}: this is not a file")
    lock = _lock(path)
    try:
        if path.exists():
            _look(path, program)
        return Opened(connection=_ready(path), lock=lock)
    except BaseException:
        os.close(lock)
        raise


def _lock(path: Path) -> int:
    """The lock of `PATH.lock`, held by an open file: it ends with the process, however that ends.

    A file beside the journal, since closing any descriptor of a database file drops the locks that SQLite itself
    has on it (https://sqlite.org/howtocorrupt.html, 2.2). It is never removed: two writers could then each lock
    a file of that name.
    """
    beside = path.with_name(f"{path.name}.lock")
    try:
        lock = os.open(beside, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    except OSError as error:
        raise JournalError(f"{path}: cannot be opened to write: {beside}: {error.strerror}") from error
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(lock)
        raise JournalError(
            f"{path}: another running service writes this journal; end that one, or keep this one's in another folder"
        ) from error
    return lock


def _look(path: Path, program: str) -> None:
    """Whether the file is a sound journal that this program may write to, found out without writing.

    Except after a crash in the making of the file: what a rollback journal beside it holds has to be put back first.
    """
    half_made = path.with_name(f"{path.name}-journal").exists()
    try:
        connection = schema.connect(path, read_only=not half_made)
        try:
            version = schema.version_of(connection, path, program)
            if _is_cut(connection, path):
                raise JournalError(
                    f"{path}: the journal is damaged: it ends in the middle of a page. It was left as it is."
                )
            if version > 0:
                schema.check(connection, path)
        finally:
            connection.close()
    except sqlite3.Error as error:
        raise JournalError(f"{path}: {why(error)}; it was left as it is") from error
    if not os.access(path, os.W_OK):
        raise JournalError(f"{path}: this user may not write to it")


def _is_cut(connection: sqlite3.Connection, path: Path) -> bool:
    """Whether the file ends within a page, which SQLite fills up with zeros and calls sound.

    Not where a log or a rollback journal beside it still has the page: a power cut may leave that.
    """
    beside = (path.with_name(f"{path.name}-{kind}") for kind in ("wal", "journal"))
    if any(one.exists() and one.stat().st_size > 0 for one in beside):
        return False
    page_bytes = int(connection.execute("PRAGMA page_size").fetchone()[0])
    return path.stat().st_size % page_bytes != 0


def _ready(path: Path) -> sqlite3.Connection:
    """A connection that writes durably: a commit returns after its fsync of the write-ahead log."""
    try:
        connection = schema.connect(path, read_only=False)
    except sqlite3.Error as error:
        raise JournalError(f"{path}: {why(error)}") from error
    try:
        mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
        if mode != "wal":
            raise JournalError(f"{path}: this file system has no shared memory for SQLite's write-ahead log")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        schema.migrate(connection, path, schema.migrations())
    except sqlite3.Error as error:
        connection.close()
        raise JournalError(f"{path}: {why(error)}") from error
    except JournalError:
        connection.close()
        raise
    return connection
