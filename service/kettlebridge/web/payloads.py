"""The shapes of the JSON API: pydantic makes the OpenAPI document of them, and holds answers to it."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.trace import Series, Span


class Payload(BaseModel):
    """All of them."""

    model_config = ConfigDict(extra="forbid")


class Problem(Payload):
    """Why something was not had. `words` is for people."""

    error: str
    words: str


class Told(Payload):
    """What became of a command. `refused` is a reason code."""

    taken: bool
    refused: str | None
    words: str
    recorded: bool
    n: int | None


class KettleState(Payload):
    """How a kettle stands: the sentence that its page leads with, and the snapshot it is made from."""

    sentence: str
    free: str
    snapshot: Snapshot


class KettleList(Payload):
    """The kettles of this service. A kettle that has not ticked yet has no state."""

    kettles: dict[str, KettleState | None]


class Batch(Payload):
    """A batch in the list."""

    batch: str
    kettle: str
    profile: str
    started_utc_s: float
    ended: BatchState | None
    ticks: int
    incomplete_from: int | None


class BatchList(Payload):
    """What was brewed, newest first."""

    batches: list[Batch]


class Happened(Payload):
    """An event: batch time, wall time, code and values."""

    at_s: float
    at_utc_s: float
    code: str
    values: dict[str, float | int | str | bool | None]


class Course(Payload):
    """The course of a batch: columns, steps, events."""

    batch: str
    series: Series
    spans: list[Span]
    happened: list[Happened]
