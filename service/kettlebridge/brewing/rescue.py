"""What mends a day that went otherwise, and what becomes of it unmended: codes and figures, no words."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.brewing.cautions import Values


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """`values` are (name, number); names carry their unit."""

    code: str
    values: Values = ()

    def get(self, name: str) -> float:
        """The figure called `name`. Raises KeyError."""
        return dict(self.values)[name]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rescue:
    """`mends` are choices, the least trouble first; none where nothing is wrong or nothing helps."""

    found: Advice
    unmended: Advice
    mends: tuple[Advice, ...]
