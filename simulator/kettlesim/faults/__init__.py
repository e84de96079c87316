"""Faults: what each does to a kettle, its probes, its board and its cable, and what undoes it."""

from __future__ import annotations
