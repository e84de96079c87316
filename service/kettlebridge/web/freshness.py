"""How old a view may be that a command was given in view of, where batch time runs faster than people."""

from __future__ import annotations

from collections import deque

from kettlebridge.model.ids import KettleId

LOOKS_S = 10.0
"""Real seconds for which a view counts as the present one."""

KEPT = 4096


class Freshness:
    """In real time a snapshot's number says it: the core refuses what is older than ten ticks.

    Where time is hurried ten ticks are nothing to a person: a view of the last ten real seconds stands for the newest.
    """

    def __init__(self, *, hurried: bool) -> None:
        self._hurried = hurried
        self._shown: dict[KettleId, deque[tuple[float, int]]] = {}

    def shown(self, kettle: KettleId, n: int, real_s: float) -> None:
        """That view went out."""
        if self._hurried:
            self._shown.setdefault(kettle, deque(maxlen=KEPT)).append((real_s, n))

    def meant(self, kettle: KettleId, seen_n: int | None, newest_n: int, real_s: float) -> int | None:
        """The number to judge a command by."""
        if seen_n is None or not self._hurried:
            return seen_n
        lately = [n for shown_s, n in self._shown.get(kettle, ()) if real_s - shown_s <= LOOKS_S]
        return newest_n if seen_n in lately else seen_n
