"""What runs the ticks: the clock, the inbox, and one keeper for each kettle."""

from __future__ import annotations
