"""What SQLite says, as a brewer may read it."""

from __future__ import annotations

import sqlite3

_PRIMARY = 0xFF
"""An extended result code keeps its primary code in the low byte (https://sqlite.org/rescode.html)."""

_WORDS = {
    sqlite3.SQLITE_BUSY: "another program holds it locked",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened",
    sqlite3.SQLITE_CORRUPT: "it is damaged",
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_IOERR: "the disk reports an input or output error",
    sqlite3.SQLITE_LOCKED: "another program holds it locked",
    sqlite3.SQLITE_NOTADB: "it is not a journal",
    sqlite3.SQLITE_PERM: "this user may not use it",
    sqlite3.SQLITE_READONLY: "it cannot be written to",
}


def why(error: Exception) -> str:
    """The reason in plain words, with SQLite's own name for it, so that it can be looked up."""
    name = getattr(error, "sqlite_errorname", None)
    if name is None:
        return f"{type(error).__name__}: {error}"
    words = _WORDS.get(getattr(error, "sqlite_errorcode", 0) & _PRIMARY)
    return f"{error} ({name})" if words is None else f"{words} ({name})"
