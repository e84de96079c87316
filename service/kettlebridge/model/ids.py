"""Names that travel between the rooms, typed so that one cannot be passed for another."""

from __future__ import annotations

from typing import NewType

KettleId = NewType("KettleId", str)
"""The kettle file's `name`, lower case, `[a-z0-9_-]`."""

BatchId = NewType("BatchId", str)
"""One execution of a profile: `<kettle>-<UTC start, yyyymmddThhmmss>`."""

ProbeName = NewType("ProbeName", str)
"""NAME of `[probe.NAME]` in the kettle file."""

CommandId = NewType("CommandId", str)
"""Chosen by whoever sends the command; the same id twice acts once."""
