"""Every byte between service and board over a short day, as one hash: a change on the wire is seen, and then meant."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from kettlebridge.runtime.clock import run_paced
from tests.scenarios.paced_day import RINSE, START_UTC_S, Day, example

GOLDEN_TO_BOARD = "54cbd61a84a8bec6178069df062ac86142444b43c8223746cb37f5874bd80c1a"
GOLDEN_TO_HOST = "85b2a8317e70f96fcc14d59bc098929fa6925a63d769b1a97135195c85e2c056"


def wire_hashes(folder: Path) -> tuple[str, str]:
    """SHA-256 over all that the board heard, and over all that it said."""
    day = Day({"thimble": replace(example("thimble", "quillet_bitter"), profile=RINSE)}, folder)
    run_paced(day.live, start_utc_s=START_UTC_S)
    seen = day.seen["thimble"]
    return hashlib.sha256(seen.heard).hexdigest(), hashlib.sha256(seen.said).hexdigest()


def test_the_bytes_of_a_short_day_are_the_ones_on_record(tmp_path: Path) -> None:
    """After a change that is meant to reach the wire, put the new hashes here and say so in the change log."""
    assert wire_hashes(tmp_path / "state") == (GOLDEN_TO_BOARD, GOLDEN_TO_HOST)
