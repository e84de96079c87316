"""Wrong guesses of a secret: each makes the next one wait longer. Only guessing waits, nothing else does."""

from __future__ import annotations

from dataclasses import dataclass

FIRST_S = 1.0
LONGEST_S = 300.0
FORGOTTEN_S = 1800.0
SUBJECTS = 1024
CROWD = "everybody else"


@dataclass(slots=True)
class _Tally:
    wrong: int
    not_before_s: float


class Guesses:
    """Counted by subject: an address, a kettle. Beyond SUBJECTS of them the rest count as one."""

    def __init__(self) -> None:
        self._tallies: dict[str, _Tally] = {}

    def wait_s(self, subject: str, now_s: float) -> float:
        """How long until that one may guess again; 0: now."""
        tally = self._tallies.get(self._known(subject, now_s))
        return 0.0 if tally is None else max(0.0, tally.not_before_s - now_s)

    def wrong(self, subject: str, now_s: float) -> float:
        """One more wrong guess; how long the next has to wait."""
        tally = self._tallies.setdefault(self._known(subject, now_s), _Tally(0, now_s))
        tally.wrong += 1
        wait_s = min(FIRST_S * 2.0 ** (tally.wrong - 1), LONGEST_S)
        tally.not_before_s = now_s + wait_s
        return wait_s

    def right(self, subject: str) -> None:
        """That one knew it."""
        self._tallies.pop(subject, None)

    def _known(self, subject: str, now_s: float) -> str:
        """The name that a subject is counted under, once what is long past is forgotten."""
        if subject in self._tallies:
            if now_s - self._tallies[subject].not_before_s <= FORGOTTEN_S:
                return subject
            del self._tallies[subject]
        if len(self._tallies) >= SUBJECTS:
            for old in [name for name, one in self._tallies.items() if now_s - one.not_before_s > FORGOTTEN_S]:
                del self._tallies[old]
        return subject if len(self._tallies) < SUBJECTS else CROWD
