"""A board's uptime on the Clock port: when a report was made, and whether it is late.

The smallest difference between receipt and uptime within a minute is the offset: a report can be held up on its way,
never hurried. The minute is one of the board's, and a late report teaches nothing. So neither a host that slept nor a
backlog of any length can pass for fresh.
"""

from __future__ import annotations

from collections import deque

WINDOW_MS = 60_000
WRAP_MS = 1 << 32


class BoardTime:
    """Begins with a session's first report, which was made after the claim: the bound until an offset is learnt."""

    def __init__(self, first_up_ms: int, claimed_s: float) -> None:
        self._first_up_ms = first_up_ms
        self._claimed_s = claimed_s
        self._newest_ms = -1
        self._offsets: deque[tuple[int, float]] = deque()  # rising offsets; the first is the smallest of the window

    def is_newer(self, up_ms: int) -> bool:
        """Whether a report at `up_ms` was made after every one noted so far."""
        return self.since_first_ms(up_ms) > self._newest_ms

    def has_noted(self, up_ms: int) -> bool:
        """Whether `up_ms` lies between the first report and the newest one noted."""
        return 0 <= self.since_first_ms(up_ms) <= self._newest_ms

    def late_s(self, up_ms: int, now_s: float) -> float:
        """How much longer than the quickest the report was on its way."""
        return now_s - self.clock_s(up_ms)

    def note(self, up_ms: int) -> None:
        """Keeps `up_ms` as the newest report."""
        self._newest_ms = self.since_first_ms(up_ms)

    def learn(self, up_ms: int, now_s: float) -> None:
        """Notes a report that was not late, received at `now_s`."""
        self.note(up_ms)
        offset_s = now_s - self._newest_ms / 1000
        while self._offsets and self._offsets[-1][1] >= offset_s:
            self._offsets.pop()
        self._offsets.append((self._newest_ms, offset_s))
        while self._offsets[0][0] < self._newest_ms - WINDOW_MS:
            self._offsets.popleft()

    def clock_s(self, up_ms: int) -> float:
        """Clock time of the moment when the board's uptime was `up_ms`."""
        offset_s = self._offsets[0][1] if self._offsets else self._claimed_s
        return offset_s + self.since_first_ms(up_ms) / 1000

    def since_first_ms(self, up_ms: int) -> int:
        """Board time since the first report, without the wraps; `up_ms` is taken as the one nearest to the newest."""
        ahead_ms = (up_ms - self._first_up_ms - self._newest_ms) % WRAP_MS
        return self._newest_ms + (ahead_ms if ahead_ms < WRAP_MS // 2 else ahead_ms - WRAP_MS)
