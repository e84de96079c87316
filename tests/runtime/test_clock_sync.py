"""Whether the wall clock is held by a time service: what the system says, and what where it cannot say."""

from __future__ import annotations

import ctypes

import pytest

from kettlebridge.runtime.clock_sync import wall_clock_synchronised


class FakeSystem:
    """A C library whose clock answers so."""

    def __init__(self, answer: int) -> None:
        self._answer = answer

    def adjtimex(self, _timex: object) -> int:
        return self._answer


@pytest.mark.parametrize(
    ("answer", "held"),
    [(0, True), (1, True), (5, False), (-1, False)],
    ids=["held", "leap second", "adrift", "refused"],
)
def test_it_is_what_adjtimex_says(answer: int, held: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """adjtimex(2): TIME_OK is 0, TIME_INS is 1, TIME_ERROR is 5."""
    monkeypatch.setattr(ctypes, "CDLL", lambda _name: FakeSystem(answer))
    assert wall_clock_synchronised() is held


def test_a_system_without_the_question_has_no_clock_to_arm_by(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ctypes, "CDLL", lambda _name: object())
    assert wall_clock_synchronised() is False


def test_the_question_itself_works_here() -> None:
    assert wall_clock_synchronised() in {True, False}
