"""What a calibration found, as a table: beside the kettle file, with what is to become of each figure."""

from __future__ import annotations

from collections.abc import Sequence

from kettlebridge.brewing.calibrating import Finding
from kettlebridge.brewing.calibration_day import Part
from kettlebridge.documents.sheet_sections import Section

PART_WORDS: dict[Part, str] = {
    Part.PROBE: "Control probe, off by",
    Part.HEATER: "Heater, as it heats",
    Part.LOSSES: "Losses, lid on",
    Part.BOIL_OFF: "Boils off, the rest set right",
    Part.DEAD_SPACE: "Left after draining",
}
TAKE, KEEP, REFUSE, LACKS = "to be written", "as the file says", "not believed", "not measured"
DIGITS: dict[Part, int] = {Part.HEATER: 0}
USUAL_DIGITS = 2


def calibration_section(found: Sequence[Finding]) -> Section:
    """One row for each part that was measured."""
    head = ("", "found", "±", "in the file", "")
    return Section(title="What the water said", head=head, rows=tuple(_row(each) for each in found))


def _row(each: Finding) -> tuple[str, ...]:
    digits = DIGITS.get(each.part, USUAL_DIGITS)
    what = LACKS if each.found is None else KEEP if each.refused is None else REFUSE
    value = "" if each.found is None else f"{each.found:.{digits}f} {each.unit}"
    spread = "" if each.spread is None else f"{each.spread:.{digits}f}"
    now = f"{each.now:.{digits}f} {each.unit}"
    return (PART_WORDS[each.part], value, spread, now, TAKE if each.worth_taking else what)


def doubts(found: Sequence[Finding]) -> tuple[str, ...]:
    """Why each figure that is not measured or not believed is not: a line for each."""
    return tuple(f"{PART_WORDS[each.part]}: {each.refused}." for each in found if each.refused is not None)
