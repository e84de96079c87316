"""Why a batch cannot be the next one in a kettle, in sentences."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from kettlebridge.documents.misfits import misfit
from kettlebridge.documents.refusals import refused
from kettlebridge.model.ids import KettleId
from kettlebridge.model.reason import Reason
from kettlebridge.ports import NotNext, NotNextCode

Reasons = tuple[Reason, ...]


def _misfits(kettle: KettleId, reasons: Reasons) -> str:
    return f"This does not fit {kettle}: " + "; ".join(misfit(one.code, one.values) for one in reasons) + "."


def _never_armed(_kettle: KettleId, reasons: Reasons) -> str:
    told = [refused(one.code) for one in reasons]
    return " ".join(["It is to be ready at a time, with nobody there.", *(f"{one.why} {one.do}" for one in told)])


def _at_work(_kettle: KettleId, _reasons: Reasons) -> str:
    return "A batch is at work in it: end that one first."


def _not_recorded(_kettle: KettleId, _reasons: Reasons) -> str:
    return (
        "The record cannot be written: the batch in it cannot be closed, nor the next one opened. Nothing was changed. "
        "See whether the disk is full, then try again."
    )


NOT_NEXT_WORDS: Mapping[NotNextCode, Callable[[KettleId, Reasons], str]] = {
    NotNextCode.MISFITS: _misfits,
    NotNextCode.NEVER_ARMED: _never_armed,
    NotNextCode.AT_WORK: _at_work,
    NotNextCode.NOT_RECORDED: _not_recorded,
}


def not_next(kettle: KettleId, why: NotNext) -> str:
    """What whoever chose it reads."""
    return NOT_NEXT_WORDS[why.code](kettle, why.reasons)
