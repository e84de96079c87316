"""The numbers of an event: what is unknown is no 0."""

from __future__ import annotations

import pytest

from kettlebridge.model.event import Event, EventCode

READ = Event(code=EventCode.MEASURED, values=(("what", "gravity"), ("read", 12), ("at_c", None), ("again", True)))


def test_a_number_that_is_not_there_is_unknown() -> None:
    assert READ.number("read") == 12.0
    assert [READ.number(name) for name in ("at_c", "volume_l", "what", "again")] == [None] * 4


@pytest.mark.parametrize("name", ["at_c", "volume_l", "what"])
def test_a_figure_that_has_to_be_there_is_never_made_up(name: str) -> None:
    assert READ.figure("read") == 12.0
    with pytest.raises(ValueError, match=f"measured without {name}"):
        READ.figure(name)
