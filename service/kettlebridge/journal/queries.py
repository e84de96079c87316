"""The reading side of the record: a read-only connection for each question, from any thread, beside any writer."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from kettlebridge.journal import schema
from kettlebridge.journal.plain_words import why
from kettlebridge.journal.plan_json import decode_plan
from kettlebridge.journal.rows import decode_event, decode_inputs
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import JournalError
from kettlebridge.model.event import Event
from kettlebridge.model.fermentation import FermentReading, ProbeReading
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.inputs import Inputs
from kettlebridge.ports import BatchHeader, BatchSummary

_BATCHES = """
SELECT name, kettle, profile, started_utc_s, ended, incomplete_from,
       (SELECT coalesce(max(n) + 1, 0) FROM tick WHERE batch = batch.id)
FROM batch ORDER BY id DESC
"""
_HEADER = "SELECT kettle, plan, started_utc_s, program, python FROM batch WHERE name = ?"
_TICKS = "SELECT n, now_s, at_utc_s, inputs FROM tick WHERE batch = ? ORDER BY n"
_EVENTS = "SELECT n, code, data FROM event WHERE batch = ? ORDER BY n, position"
_UNFINISHED = "SELECT name FROM batch WHERE kettle = ? AND ended IS NULL ORDER BY id DESC LIMIT 1"
_FERMENTATION = "SELECT at_utc_s, read_sg, at_c, gravity_sg FROM fermentation WHERE batch = ? ORDER BY at_utc_s"
_FERMENTER = "SELECT at_utc_s, at_c, gravity_sg FROM fermenter WHERE batch = ? ORDER BY at_utc_s"
_PACKAGED = "SELECT at_utc_s FROM packaging WHERE batch = ?"
_HAS_TICK = "SELECT 1 FROM tick JOIN batch ON tick.batch = batch.id WHERE batch.name = ? AND n = ?"


class SqliteRecords:
    """Implements `ports.Records`. `program`: this program's version, for what it has to say."""

    def __init__(self, path: Path, *, program: str) -> None:
        self._path = path
        self._program = program

    def batches(self) -> tuple[BatchSummary, ...]:
        """All batches, newest first, in the order they were begun. Raises JournalError."""
        with self._reading("batches") as connection:
            return tuple(
                BatchSummary(
                    batch=BatchId(name),
                    kettle=KettleId(kettle),
                    profile=profile,
                    started_utc_s=started_utc_s,
                    ended=None if ended is None else BatchState(ended),
                    ticks=ticks,
                    incomplete_from=incomplete_from,
                )
                for name, kettle, profile, started_utc_s, ended, incomplete_from, ticks in connection.execute(_BATCHES)
            )

    def header(self, batch: BatchId) -> BatchHeader:
        """What the batch's record opened with. Raises JournalError."""
        with self._reading(batch) as connection:
            row = connection.execute(_HEADER, (batch,)).fetchone()
            if row is None:
                raise self._unknown(batch)
            kettle, plan, started_utc_s, program, python = row
            with self._at(batch, "its plan"):
                decoded = decode_plan(plan)
            return BatchHeader(
                batch=batch,
                kettle=KettleId(kettle),
                plan=decoded,
                started_utc_s=started_utc_s,
                program=program,
                python=python,
            )

    def ticks(self, batch: BatchId) -> Iterator[tuple[int, Inputs]]:
        """Every tick in order up to the first that is missing.

        Raises JournalError there, when it comes to it: what follows a gap must not be folded as if there were none.
        """
        expected = 0
        with self._reading(batch) as connection:
            key, incomplete_from = self._key(connection, batch)
            for n, now_s, at_utc_s, inputs in connection.execute(_TICKS, (key,)):
                if n != expected:
                    raise self._missing(batch, expected)
                with self._at(batch, f"tick {n}"):
                    decoded = decode_inputs(now_s, at_utc_s, inputs)
                yield n, decoded
                expected += 1
            if incomplete_from is not None:
                raise self._missing(batch, expected)

    def events(self, batch: BatchId) -> Iterator[tuple[int, Event]]:
        """Every event in order, with the number of its tick; across gaps too. Raises JournalError."""
        with self._reading(batch) as connection:
            key, _ = self._key(connection, batch)
            for n, code, data in connection.execute(_EVENTS, (key,)):
                with self._at(batch, f"an event of tick {n}"):
                    decoded = decode_event(code, data)
                yield n, decoded

    def unfinished(self, kettle: KettleId) -> BatchId | None:
        """The batch of `kettle` begun last and not ended, if there is one. Raises JournalError."""
        with self._reading(kettle) as connection:
            row = connection.execute(_UNFINISHED, (kettle,)).fetchone()
            return None if row is None else BatchId(row[0])

    def fermentation(self, batch: BatchId) -> tuple[FermentReading, ...]:
        """What was measured in the fermenter, in the order of time. Raises JournalError."""
        with self._reading(batch) as connection:
            key, _ = self._key(connection, batch)
            return tuple(
                FermentReading(at_utc_s=at_utc_s, read_sg=read_sg, at_c=at_c, gravity_sg=gravity_sg)
                for at_utc_s, read_sg, at_c, gravity_sg in connection.execute(_FERMENTATION, (key,))
            )

    def fermenter(self, batch: BatchId) -> tuple[ProbeReading, ...]:
        """What a probe told from the fermenter, in the order of time. Raises JournalError."""
        with self._reading(batch) as connection:
            key, _ = self._key(connection, batch)
            return tuple(
                ProbeReading(at_utc_s=at_utc_s, at_c=at_c, gravity_sg=gravity_sg)
                for at_utc_s, at_c, gravity_sg in connection.execute(_FERMENTER, (key,))
            )

    def packaged_utc_s(self, batch: BatchId) -> float | None:
        """When the beer was packaged, None while it was not. Raises JournalError."""
        with self._reading(batch) as connection:
            key, _ = self._key(connection, batch)
            row = connection.execute(_PACKAGED, (key,)).fetchone()
            return None if row is None else float(row[0])

    def has_tick(self, batch: BatchId, n: int) -> bool:
        """Whether tick `n` is on disk. Raises JournalError."""
        with self._reading(batch) as connection:
            return connection.execute(_HAS_TICK, (batch, n)).fetchone() is not None

    @contextmanager
    def _at(self, batch: BatchId, place: str) -> Iterator[None]:
        """What cannot be decoded within is told with its place: a damaged value in a file that is whole."""
        try:
            yield
        except JournalError as error:
            raise JournalError(f"{self._path}: batch {batch}, {place}: {error}") from error

    @contextmanager
    def _reading(self, subject: str) -> Iterator[sqlite3.Connection]:
        """A connection that cannot write; what SQLite says becomes a JournalError about `subject`."""
        if not self._path.is_file():
            raise JournalError(f"{self._path}: there is no such journal")
        try:
            connection = schema.connect(self._path, read_only=True)
            try:
                self._check_version(connection)
                yield connection
            finally:
                connection.close()
        except sqlite3.Error as error:
            raise JournalError(f"{self._path}: {subject}: {why(error)}") from error

    def _check_version(self, connection: sqlite3.Connection) -> None:
        version, newest = schema.version_of(connection, self._path, self._program), len(schema.migrations())
        if version < newest:
            raise JournalError(
                f"{self._path}: the journal is of version {version}; `serve` brings it to version {newest}, "
                "which this program reads"
            )

    def _key(self, connection: sqlite3.Connection, batch: BatchId) -> tuple[int, int | None]:
        row = connection.execute("SELECT id, incomplete_from FROM batch WHERE name = ?", (batch,)).fetchone()
        if row is None:
            raise self._unknown(batch)
        return row[0], row[1]

    def _unknown(self, batch: BatchId) -> JournalError:
        return JournalError(f"{self._path}: there is no batch {batch}")

    def _missing(self, batch: BatchId, n: int) -> JournalError:
        return JournalError(f"{self._path}: the record of {batch} is incomplete from tick {n}: it was not written")
