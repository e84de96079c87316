"""One measured figure."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """`text` is the figure with its unit, `how` what was run."""

    text: str
    how: str
