"""Which of the tasks that a service cannot do without are late: the ticks of each kettle, and the journal's writer.

A kettle whose life has ended in order, after a crash or for good, owes no ticks until it lives again. A disk that does
not answer is no fault of the writer: nothing else waits for it, and a restart would not mend it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from kettlebridge.model.ids import KettleId
from kettlebridge.ports import Clock, JournalHealth

LATE_S = 5.0
"""A tick comes every second, and the writer takes at once what is queued."""

WRITER = "journal writer"


class VitalTasks:
    """Told of ticks as a Guard. `unseen` are the kettles of which nothing has been heard yet."""

    def __init__(self, kettles: Iterable[KettleId], clock: Clock, health: Callable[[], JournalHealth]) -> None:
        self.unseen = set(kettles)
        self._clock = clock
        self._health = health
        self._ticked_s: dict[KettleId, float] = {}

    def began(self, kettle: KettleId) -> None:
        """From now on it owes ticks."""
        self._ticked_s[kettle] = self._clock.now_s()

    def finished(self, kettle: KettleId) -> None:
        """A tick."""
        self._ticked_s[kettle] = self._clock.now_s()
        self.unseen.discard(kettle)

    def left(self, kettle: KettleId) -> None:
        """It owes none until it begins again."""
        self._ticked_s.pop(kettle, None)
        self.unseen.discard(kettle)

    def late(self) -> tuple[str, ...]:
        """Those more than LATE_S behind."""
        now_s = self._clock.now_s()
        late = [f"ticks of {kettle}" for kettle, ticked_s in self._ticked_s.items() if now_s - ticked_s > LATE_S]
        if self._health().writer_late_s > LATE_S:
            late.append(WRITER)
        return tuple(late)
