"""A brew sheet as plain values for a program to read; names carry their unit."""

from __future__ import annotations

from dataclasses import asdict
from enum import Enum
from typing import Any

from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.cautions import cautions, fits
from kettlebridge.brewing.yeast import dry_yeast_g
from kettlebridge.documents.caution_words import caution_words


def sheet_values(sheet: Sheet) -> dict[str, Any]:
    """Everything on the sheet. Litres at 20 °C; minutes from the first slot."""
    gravities = sheet.gravities
    values = {
        "recipe": asdict(sheet.recipe),
        "kettle": sheet.kettle.name,
        "day": asdict(sheet.day),
        "fits": fits(sheet),
        "cautions": [
            {"code": each.code, "stops": each.stops, "values": dict(each.values), "words": caution_words(each)}
            for each in cautions(sheet)
        ],
        "litres": asdict(sheet.litres),
        "water": {**asdict(sheet.water), "litres_per_kg": sheet.water.litres_per_kg},
        "strike": asdict(sheet.strike) if sheet.strike is not None else None,
        "infusions": [asdict(each) for each in sheet.infusions],
        "lift": asdict(sheet.lift) if sheet.lift is not None else None,
        "marks": [asdict(mark) for mark in sheet.marks],
        "gravities": {
            **asdict(gravities),
            "pre_boil_sg": gravities.pre_boil_sg,
            "original_sg": gravities.original_sg,
        },
        "hops": [asdict(line) for line in sheet.hops],
        "bitterness_ibu": sheet.bitterness_ibu,
        "colour_ebc": sheet.colour_ebc,
        "cells_needed_billion": sheet.cells_needed_billion,
        "dry_yeast_g": dry_yeast_g(sheet.cells_needed_billion),
        "priming_g": sheet.priming_g,
        "chilled_c": sheet.chilled_c,
        "slots": [asdict(slot) for slot in sheet.slots],
        "sparge_pot_begin_min": sheet.sparge_pot_begin_min,
        "energy_kwh": sheet.energy_kwh,
    }
    return {name: _plain(value) for name, value in values.items()}


def _plain(value: Any) -> Any:
    """Enums as what they are written as."""
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, list | tuple) else value
