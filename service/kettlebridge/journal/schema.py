"""The versions of a journal's tables, and the way from each to the next.

`migrations/NNNN_*.sql` leads from version NNNN - 1 to NNNN; `PRAGMA user_version` tells where a file stands.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from kettlebridge.journal.plain_words import why
from kettlebridge.model.errors import JournalError

APPLICATION_ID = 0x4B42524A
"""ASCII "KBRJ", in the header of every journal: no other program's SQLite file is taken for one."""

OLDEST_SQLITE = (3, 37, 0)
"""The first with STRICT tables, in which a column holds only what it says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """`sql` leads to version `number`."""

    number: int
    sql: str


def migrations() -> tuple[Migration, ...]:
    """All that this program knows, in order; their numbers count from 1 without gaps."""
    folder = resources.files("kettlebridge.journal") / "migrations"
    files = sorted((file for file in folder.iterdir() if file.name.endswith(".sql")), key=lambda file: file.name)
    found = tuple(Migration(number=int(f.name[:4]), sql=f.read_text(encoding="utf-8")) for f in files)
    if [migration.number for migration in found] != list(range(1, len(found) + 1)):
        raise JournalError(f"the program's own migrations are not complete: {[file.name for file in files]}")
    return found


def connect(path: Path, *, read_only: bool, wait_s: float = 1.0) -> sqlite3.Connection:
    """Transactions are begun by whoever writes. `wait_s`: for another program's lock. Raises sqlite3.Error."""
    uri = f"{path.absolute().as_uri()}?mode={'ro' if read_only else 'rwc'}"
    return sqlite3.connect(uri, uri=True, timeout=wait_s, isolation_level=None, check_same_thread=False)


def version_of(connection: sqlite3.Connection, path: Path, program: str) -> int:
    """The version of the journal at `path`, 0 for an empty file. Changes nothing.

    Raises JournalError for what is no journal, or one newer than `program`; sqlite3.Error for what is no database.
    """
    newest = len(migrations())
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    application = int(connection.execute("PRAGMA application_id").fetchone()[0])
    tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    if (version, application, tables) == (0, 0, 0):
        return 0
    if application != APPLICATION_ID:
        raise JournalError(f"{path}: this is another program's SQLite database, not a journal; it was left as it is")
    if version > newest:
        raise JournalError(
            f"{path}: the journal is of version {version}, made by a newer program; this one ({program}) reads "
            f"up to version {newest}. It was left as it is."
        )
    return version


def check(connection: sqlite3.Connection, path: Path) -> None:
    """Reads through the whole file (about 1.2 ms a megabyte where it is cached). Raises JournalError with the place."""
    found = [str(row[0]) for row in connection.execute("PRAGMA quick_check(3)")]
    if found != ["ok"]:
        raise JournalError(f"{path}: the journal is damaged: {'; '.join(found)}. It was left as it is.")


def migrate(connection: sqlite3.Connection, path: Path, known: tuple[Migration, ...]) -> None:
    """Brings the file to the newest version: all of it or, when any statement fails, nothing. Raises JournalError."""
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if version >= len(known):
        return
    try:
        connection.execute("BEGIN IMMEDIATE")
        for migration in known[version:]:
            for statement in statements(migration.sql):
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(known)}")
        connection.execute("COMMIT")
    except sqlite3.Error as error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise JournalError(f"{path}: cannot be brought from version {version} to {len(known)}: {why(error)}") from error


def statements(sql: str) -> Iterator[str]:
    """One by one: `executescript` would end the transaction that they belong to."""
    statement = ""
    for line in sql.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""
    if statement.strip():
        yield statement
