"""What is brewed next in each kettle: its name, its header, and whether it may be at all."""

from __future__ import annotations

import logging
import platform
from collections.abc import Mapping

from kettlebridge import __version__
from kettlebridge.app.setting import Assignment
from kettlebridge.core.state import State
from kettlebridge.core.validation import misfits
from kettlebridge.documents.trend_words import trend_words
from kettlebridge.files.local_time import ZoneTime, utc_stamp
from kettlebridge.files.unattended import against_arming
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import NOTHING_CHOSEN, Plan, Profile
from kettlebridge.model.reason import Reason
from kettlebridge.ports import BatchHeader, NotNext, NotNextCode, Records
from kettlebridge.runtime.carried_over import carried_over, left_over, trends_in
from kettlebridge.runtime.keeper import Keeper

log = logging.getLogger(__name__)


class Opener:
    """Makes the header of a kettle's next batch; `profile` is what it will be, None: it waits for a choice."""

    def __init__(self, assignment: Assignment, time: ZoneTime, records: Records) -> None:
        self.kettle = assignment.file.kettle
        self.against_arming = against_arming(assignment.file)
        self.profile = assignment.profile
        self._time = time
        self._records = records

    def opened(self, at_utc_s: float) -> BatchHeader:
        """At a wall time."""
        kettle, profile = self.kettle, self.profile or NOTHING_CHOSEN
        for trend in trends_in(self._records, kettle.name) if profile.steps else ():
            log.warning("kettle %s: %s", kettle.name, trend_words(trend))
        ready_at_utc_s = None if profile.ready_at is None else self._time.next_at(profile.ready_at, at_utc_s).at_utc_s
        return BatchHeader(
            batch=_batch_id(kettle.name, at_utc_s, {known.batch for known in self._records.batches()}),
            kettle=kettle.name,
            plan=Plan(
                kettle=kettle,
                profile=profile,
                ready_at_utc_s=ready_at_utc_s,
                learnt=carried_over(self._records, kettle) if profile.steps else None,
                against_arming=self.against_arming,
                left_over=left_over(self._records, kettle.name),
            ),
            started_utc_s=at_utc_s,
            program=__version__,
            python=platform.python_version(),
        )


class NextInLine:
    """What is brewed next in each kettle."""

    def __init__(self, keepers: Mapping[KettleId, Keeper[State]], openers: Mapping[KettleId, Opener]) -> None:
        self._keepers = keepers
        self._openers = openers

    def kettle(self, kettle: KettleId) -> Kettle:
        """The kettle of that name as its file has it."""
        return self._openers[kettle].kettle

    def prepare(self, kettle: KettleId, profile: Profile) -> NotNext | None:
        """Opens a batch of `profile`, not begun, in place of one that is over or never was; else says why not."""
        opener, keeper = self._openers[kettle], self._keepers[kettle]
        reasons = misfits(opener.kettle, profile)
        if reasons:
            return NotNext(code=NotNextCode.MISFITS, reasons=reasons)
        if profile.ready_at is not None and opener.against_arming:
            return NotNext(code=NotNextCode.NEVER_ARMED, reasons=(Reason(code=opener.against_arming[0]),))
        if not keeper.free:
            return NotNext(code=NotNextCode.AT_WORK)
        if not keeper.begin_anew():
            return NotNext(code=NotNextCode.NOT_RECORDED)
        opener.profile = profile
        log.info("kettle %s: the next batch is %s", kettle, profile.name)
        return None


def _batch_id(kettle: KettleId, at_utc_s: float, taken: set[BatchId]) -> BatchId:
    """Named after kettle and start; numbered where a clock that was set back makes that a name already taken."""
    stem = f"{kettle}-{utc_stamp(at_utc_s)}"
    names = (BatchId(stem if number == 1 else f"{stem}-{number}") for number in range(1, len(taken) + 2))
    return next(name for name in names if name not in taken)
