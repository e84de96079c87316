"""The system's Chromium, for tests and pictures: found by its path, quiet, and calling nobody."""

from __future__ import annotations

from pathlib import Path

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE = {"width": 390, "height": 844}
TABLET = {"width": 1024, "height": 768}
