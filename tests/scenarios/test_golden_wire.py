"""Every byte between service and board over a short day, as one hash: a change on the wire is seen, and then meant."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from kettlebridge.runtime.clock import run_paced
from tests.scenarios.paced_day import RINSE, START_UTC_S, Day, example

GOLDEN_TO_BOARD = "88fe2101dfb7f0ed05a577fb8719a3097cd3a1545194931baef0662cf6cbe3f8"
GOLDEN_TO_HOST = "17933fc7fcd3b421e8fbadb12ad22876890fbf3a33c3a7a23040411d77471f0d"


def wire_hashes(folder: Path) -> tuple[str, str]:
    """SHA-256 over all that the board heard, and over all that it said."""
    day = Day({"thimble": replace(example("thimble", "quillet_bitter"), profile=RINSE)}, folder)
    run_paced(day.live, start_utc_s=START_UTC_S)
    seen = day.seen["thimble"]
    return hashlib.sha256(seen.heard).hexdigest(), hashlib.sha256(seen.said).hexdigest()


def test_the_bytes_of_a_short_day_are_the_ones_on_record(tmp_path: Path) -> None:
    """After a change that is meant to reach the wire, put the new hashes here and say so in the change log."""
    assert wire_hashes(tmp_path / "state") == (GOLDEN_TO_BOARD, GOLDEN_TO_HOST)
