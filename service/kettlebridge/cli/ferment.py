"""`ferment BATCH add|show|packaged`: gravities from the fermenter, and whether it is ready to package."""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import NamedTuple

from kettlebridge.app import fermentation_in, records_in
from kettlebridge.brewing.alcohol import alcohol_by_volume, final_sg
from kettlebridge.brewing.fermentation import standing, with_probe
from kettlebridge.brewing.gravity import hydrometer_corrected
from kettlebridge.brewing.measuring import HYDROMETER_C, HYDROMETER_SG
from kettlebridge.cli.exits import DONE
from kettlebridge.cli.numbers import number
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.documents.ferment_words import FERMENT_WORDS
from kettlebridge.files.local_time import system_time
from kettlebridge.files.recipe_file import load_recipe
from kettlebridge.model.event import EventCode
from kettlebridge.model.fermentation import FermentReading, ProbeReading
from kettlebridge.model.ids import BatchId
from kettlebridge.model.units import S_PER_H
from kettlebridge.ports import Records
from kettlebridge.runtime.clock import RealClock

LONGEST_AGO_H = 24.0 * 365


FRESH_WITHIN_SG = 0.01
"""A first reading this far below what was planned may be of fresh wort; a lower one is of a beer that ferments."""


class Original(NamedTuple):
    """The gravity that it began with, and where that is known from: "measured", "first_reading" or "planned"."""

    sg: float
    known_from: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """All that is known of a beer in its fermenter; `readings` are by hand and by probe, `told` by probe alone."""

    readings: tuple[FermentReading, ...]
    told: tuple[ProbeReading, ...]
    original: Original | None
    expected_sg: float | None
    packaged_utc_s: float | None


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `ferment` may be told."""
    parser.add_argument("batch", metavar="BATCH", help="as `batches` lists it")
    whats = parser.add_subparsers(dest="what", required=True, metavar="WHAT")
    add = whats.add_parser("add", help="a gravity was measured")
    add.add_argument(
        "--gravity", type=number(*HYDROMETER_SG), required=True, metavar="SG", help="as the hydrometer shows it"
    )
    add.add_argument("--at-c", type=number(*HYDROMETER_C), required=True, metavar="C", help="of the sample")
    add.add_argument(
        "--ago", type=number(0, LONGEST_AGO_H), default=0.0, metavar="HOURS", help="measured so long ago (default 0)"
    )
    show = whats.add_parser("show", help="what was measured, and how it stands")
    packaged = whats.add_parser("packaged", help="it is in bottles or a keg: no probe's reading is its own any more")
    for one in (add, show, packaged):
        one.add_argument("--recipe", type=Path, metavar="FILE", help="recipe file: what its yeast was to reach")
        one.add_argument("--json", action="store_true", help="one JSON document instead of lines")
        add_state(one)


def run(args: argparse.Namespace) -> int:
    """Adds the reading and shows them all. Raises JournalError: no such batch; FileError for a bad recipe."""
    folder, batch = state_folder(args.state, os.environ), BatchId(args.batch)
    attenuation = None if args.recipe is None else load_recipe(args.recipe).yeast.attenuation_fraction
    if args.what == "add":
        reading = FermentReading(
            at_utc_s=RealClock().at_utc_s() - S_PER_H * args.ago,
            read_sg=args.gravity,
            at_c=args.at_c,
            gravity_sg=hydrometer_corrected(args.gravity, args.at_c),
        )
        fermentation_in(folder).add_reading(batch, reading)
    if args.what == "packaged":
        fermentation_in(folder).set_packaged(batch, RealClock().at_utc_s())
    records = records_in(folder)
    told, packaged_utc_s = records.fermenter(batch), records.packaged_utc_s(batch)
    readings = with_probe(records.fermentation(batch), told)
    original = _original(records, batch, readings)
    expected_sg = None if attenuation is None or original is None else final_sg(original.sg, attenuation)
    found = Found(
        readings=readings,
        told=told,
        original=original,
        expected_sg=expected_sg,
        packaged_utc_s=packaged_utc_s,
    )
    (_print_json if args.json else _print_lines)(found)
    return DONE


def _original(records: Records, batch: BatchId, readings: Sequence[FermentReading]) -> Original | None:
    """The last gravity measured in the kettle, else the first in the fermenter; if that came too late, the planned."""
    measured = [
        event.figure("gravity_sg")
        for _, event in records.events(batch)
        if event.code is EventCode.MEASURED and event.get("what") == "gravity"
    ]
    if measured:
        return Original(measured[-1], "measured")
    if not readings:
        return None
    first_sg, aim = readings[0].gravity_sg, records.header(batch).plan.profile.aim
    if aim is not None and first_sg < aim.original_sg - FRESH_WITHIN_SG:
        return Original(aim.original_sg, "planned")
    return Original(first_sg, "first_reading")


def _alcohol(found: Found) -> float | None:
    readings, original = found.readings, found.original
    if not readings or original is None or original.sg <= readings[-1].gravity_sg:
        return None
    return alcohol_by_volume(original.sg, readings[-1].gravity_sg)


def _print_lines(found: Found) -> None:
    time, readings = system_time(), found.readings
    for reading in readings:
        when = time.date_hh_mm(reading.at_utc_s)
        print(f"{when}  {reading.gravity_sg:.3f} at 20 °C  (read {reading.read_sg:.3f} at {reading.at_c:g} °C)")
    if found.told:
        last = found.told[-1]
        print(
            f"The probe kept {len(found.told)} readings, the last {time.date_hh_mm(last.at_utc_s)}: {last.at_c:.1f} °C."
        )
    if found.packaged_utc_s is not None:
        print(f"Packaged {time.date_hh_mm(found.packaged_utc_s)}.")
    else:
        print(FERMENT_WORDS[standing(readings, found.expected_sg)])
    alcohol_percent = _alcohol(found)
    if found.original is not None and alcohol_percent is not None:
        planned = ", as planned: none was measured" if found.original.known_from == "planned" else ""
        print(f"From {found.original.sg:.3f}{planned}: {alcohol_percent:.1f} % alcohol so far.")


def _print_json(found: Found) -> None:
    values = {
        "readings": [asdict(reading) for reading in found.readings],
        "probe": [asdict(reading) for reading in found.told],
        "original_sg": None if found.original is None else found.original.sg,
        "original_known_from": None if found.original is None else found.original.known_from,
        "expected_sg": found.expected_sg,
        "standing": standing(found.readings, found.expected_sg).value,
        "alcohol_percent": _alcohol(found),
        "packaged_utc_s": found.packaged_utc_s,
    }
    print(json.dumps(values, indent=2))
