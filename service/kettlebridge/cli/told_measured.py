"""What was measured, and what may be done about it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from kettlebridge.app import CORE, records_in
from kettlebridge.brewing.rescue_measured import measured_day
from kettlebridge.documents.rescue_words import rescue_lines
from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import KettleId
from kettlebridge.runtime.traces import folded


def what_comes_of_it(folder: Path, kettle: KettleId) -> Iterator[str]:
    """Lines to print; none where it says nothing of the beer, or has no record."""
    try:
        records = records_in(folder)
        batch = records.unfinished(kettle)
        if batch is None:
            return
        header = records.header(batch)
        found = measured_day(header.plan, folded(CORE, header, records))
    except JournalError:
        return
    except ValueError as error:
        yield f"Careful: {error}."
        return
    if found is None:
        return
    yield from rescue_lines(found)
    for mend in found.mends:
        if "step" in dict(mend.values):
            minutes = mend.get("minutes") * (1 if mend.code == "boil_longer" else -1)
            yield f"To do that: kettlebridge tell {kettle} extend {minutes:.0f} --step {mend.get('step'):.0f}"
