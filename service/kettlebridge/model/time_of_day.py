"""How a time of day is written."""

from __future__ import annotations

HH_MM = "([01][0-9]|2[0-3]):([0-5][0-9])"
"""Hours and minutes, local time, both with two digits: a pattern for the whole of a text."""
