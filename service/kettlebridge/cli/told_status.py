"""How a kettle stands, in words or as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from pydantic import TypeAdapter

from kettlebridge.app import records_in
from kettlebridge.documents.amounts import degrees
from kettlebridge.documents.arming import by_itself
from kettlebridge.documents.calls import asked
from kettlebridge.documents.sentences import alarm, leading, outputs, place, standing
from kettlebridge.documents.troubles import PROBE_WORDS
from kettlebridge.files.local_time import system_time
from kettlebridge.model.errors import JournalError
from kettlebridge.model.plan import Plan
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import LocalTime


def show_status(folder: Path, shown: object, *, as_json: bool) -> None:
    """Prints a snapshot that came as JSON; `folder` is the service's."""
    if as_json:
        print(json.dumps(shown, indent=2))
        return
    snapshot = TypeAdapter(Snapshot).validate_python(shown)
    for line in status_lines(snapshot, _plan(folder, snapshot), system_time()):
        print(line)


def _plan(folder: Path, snapshot: Snapshot) -> Plan | None:
    """The plan that the record opened with; without it the words are only fewer."""
    try:
        return records_in(folder).header(snapshot.batch).plan
    except JournalError:
        return None


def status_lines(snapshot: Snapshot, plan: Plan | None, time: LocalTime) -> Iterator[str]:
    """How a kettle stands, the sentence first."""
    yield leading(snapshot, plan)
    if armed := by_itself(snapshot, time):
        yield armed
    yield from standing(snapshot)
    yield f"{outputs(snapshot)}{'' if snapshot.step is None else f', {place(snapshot.step)}'}"
    for call in snapshot.calls:
        words = asked(call, plan)
        where = "at the kettle" if words.at_kettle else "for you"
        yield " ".join(part for part in (f"{where} [{call.id}]: {words.do}", words.text, words.caution) if part)
    for record in snapshot.alarms:
        yield f"alarm [{record.cause}]: {alarm(record)}"
    for probe in snapshot.probes:
        fault = "" if probe.fault is None else f", {PROBE_WORDS[probe.fault]}"
        yield f"probe {probe.probe}: {degrees(probe.value_c)}{fault}"
