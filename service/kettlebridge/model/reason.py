"""Why something cannot be, for whoever puts it into words."""

from __future__ import annotations

from dataclasses import dataclass

from kettlebridge.model.event import Scalar


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One reason; `values` are (name, scalar) pairs that show it, names carry their unit."""

    code: str
    values: tuple[tuple[str, Scalar], ...] = ()
