"""What was measured, and what may be done about it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from kettlebridge.app import CORE, records_in
from kettlebridge.brewing.rescue_measured import measured_day
from kettlebridge.cli.tell_lines import tell_line
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
            words = ("extend", f"{minutes:.0f}", f"--step {mend.get('step'):.0f}")
            yield f"To do that: {tell_line(folder, kettle, *words)}"
