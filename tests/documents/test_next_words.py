"""Why a batch cannot be the next one is said in whole sentences, with what shows it."""

from __future__ import annotations

import pytest

from kettlebridge.documents.next_words import NOT_NEXT_WORDS, not_next
from kettlebridge.model.ids import KettleId
from kettlebridge.model.reason import Reason
from kettlebridge.ports import NotNext, NotNextCode

KETTLE = KettleId("thimble")
BARE = Reason(code="element_bare", values=(("step", "Rest"), ("litres", 2.0), ("element_cover_l", 3.5)))
NO_PUMP = Reason(code="no_pump", values=(("index", 1), ("step", "Rest")))

UNFIT = (
    "This does not fit thimble: Rest: only 2.0 L would be in the kettle, and the element is bare below 3.5 L; "
    "Rest: wants a pump, and this kettle has none."
)
UNATTENDED = (
    "It is to be ready at a time, with nobody there. "
    "The board that switches this heater cannot show that it drops it by itself. "
    "Only a board on the serial line can be armed: be there when this one heats."
)
UNRECORDED = (
    "The record cannot be written: the batch in it cannot be closed, nor the next one opened. Nothing was changed. "
    "See whether the disk is full, then try again."
)
SAID = {
    NotNextCode.MISFITS: ((BARE, NO_PUMP), UNFIT),
    NotNextCode.NEVER_ARMED: ((Reason(code="arm_lease_not_shown"),), UNATTENDED),
    NotNextCode.AT_WORK: ((), "A batch is at work in it: end that one first."),
    NotNextCode.NOT_RECORDED: ((), UNRECORDED),
}


@pytest.mark.parametrize("code", NotNextCode)
def test_every_code_is_said_with_its_reasons(code: NotNextCode) -> None:
    reasons, words = SAID[code]
    assert code in NOT_NEXT_WORDS
    assert not_next(KETTLE, NotNext(code=code, reasons=reasons)) == words
