"""Work items as statements inside the writer's transaction."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from kettlebridge.journal.plan_json import encode_plan
from kettlebridge.journal.rows import encode_inputs, encode_values
from kettlebridge.journal.work import Begin, End, Gap, Item, Row
from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import BatchId

_INSERT_BATCH = """
INSERT INTO batch (name, kettle, profile, started_utc_s, plan, program, python) VALUES (?, ?, ?, ?, ?, ?, ?)
"""
_INSERT_TICK = "INSERT INTO tick (batch, n, now_s, at_utc_s, inputs) VALUES (?, ?, ?, ?, ?)"
_INSERT_EVENT = "INSERT INTO event (batch, n, position, code, data) VALUES (?, ?, ?, ?, ?)"
_FIND_BATCH = """
SELECT id, (SELECT coalesce(max(n) + 1, 0) FROM tick WHERE batch = batch.id) FROM batch WHERE name = ?
"""
_MARK_GAP = "UPDATE batch SET incomplete_from = min(:n, coalesce(incomplete_from, :n)) WHERE id = :key"
_END_BATCH = "UPDATE batch SET ended = ? WHERE id = ?"


@dataclass(slots=True)
class _Place:
    """A batch in the database: its key, and the tick that comes next without a gap."""

    key: int
    next_n: int


class Tables:
    """Writes items; commits nothing. What it remembers of the batches goes with a transaction that is rolled back."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._places: dict[BatchId, _Place] = {}

    def forget(self) -> None:
        """After a rollback: the database is asked anew."""
        self._places.clear()

    def put(self, item: Item) -> None:
        """Writes `item` whole or, when it raises, not at all. Raises JournalError or sqlite3.Error."""
        match item:
            case Row():
                self._put_row(item)
            case Begin(header=header):
                values = (header.batch, header.kettle, header.plan.profile.name, header.started_utc_s)
                plan = encode_plan(header.plan)
                try:
                    self._connection.execute(_INSERT_BATCH, (*values, plan, header.program, header.python))
                except sqlite3.IntegrityError as error:
                    if error.sqlite_errorcode != sqlite3.SQLITE_CONSTRAINT_UNIQUE:
                        raise
                    raise JournalError(f"batch {header.batch} has a record already") from error
            case Gap(batch=batch, n=n):
                self._mark_gap(self._place(batch), n)
            case End(batch=batch, state=state):
                self._connection.execute(_END_BATCH, (state.value, self._place(batch).key))
            case _:  # a Close writes nothing
                pass

    def lost(self, row: Row) -> None:
        """Marks the record of a batch whose `row` could not be put."""
        place = self._places.get(row.entry.batch)
        if place is not None and row.entry.n >= place.next_n:
            self._mark_gap(place, place.next_n)

    def _put_row(self, row: Row) -> None:
        entry = row.entry
        place = self._place(entry.batch)
        if entry.n < place.next_n:
            raise JournalError(f"tick {entry.n} of batch {entry.batch} is written already")
        inputs = entry.inputs
        tick = (place.key, entry.n, inputs.now_s, inputs.at_utc_s, encode_inputs(inputs))
        events = [
            (place.key, entry.n, position, event.code.value, encode_values(event))
            for position, event in enumerate(entry.events)
        ]
        if entry.n > place.next_n:  # rows were lost on the way here: what follows cannot be replayed
            self._mark_gap(place, place.next_n)
        self._connection.execute(_INSERT_TICK, tick)
        if events:
            self._connection.executemany(_INSERT_EVENT, events)
        place.next_n = entry.n + 1

    def _mark_gap(self, place: _Place, n: int) -> None:
        self._connection.execute(_MARK_GAP, {"n": n, "key": place.key})

    def _place(self, batch: BatchId) -> _Place:
        place = self._places.get(batch)
        if place is None:
            found = self._connection.execute(_FIND_BATCH, (batch,)).fetchone()
            if found is None:
                raise JournalError(f"batch {batch} was never begun")
            place = self._places[batch] = _Place(*found)
        return place
