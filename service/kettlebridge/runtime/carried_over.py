"""What a kettle's earlier batches taught and left over, out of the record and into its next plan."""

from __future__ import annotations

import logging
from dataclasses import replace

from kettlebridge.brewing.trend import Trend, fit_of, trends
from kettlebridge.core import alarms
from kettlebridge.core.learning import learnt_from, still_of
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import JournalError
from kettlebridge.model.event import EventCode
from kettlebridge.model.ids import KettleId
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.learnt import Learnt
from kettlebridge.ports import Records

log = logging.getLogger(__name__)


def carried_over(records: Records, kettle: Kettle) -> Learnt | None:
    """From the kettle's newest batch and what that one knew; None for a new kettle, or a record that cannot be read."""
    try:
        newest = next((batch.batch for batch in records.batches() if batch.kettle == kettle.name), None)
        if newest is None:
            return None
        header = records.header(newest)
        learnt = learnt_from(header.plan, (event for _, event in records.events(newest)), header.started_utc_s)
    except JournalError as error:
        log.warning("kettle %s: nothing is carried over from its last batch: %s", kettle.name, error)
        return None
    return still_of(learnt, header.plan.kettle, kettle)


STOPPED_HEAT = frozenset({BatchState.ABORTING.value, BatchState.ABORTED.value})


def left_over(records: Records, kettle: KettleId) -> tuple[AlarmRecord, ...]:
    """Safety alarms that stood when the kettle's newest batch ended; none where the record cannot be read.

    One that breaks off after a stop of all heat, as where the disk failed, leaves that over as if it had been ended.
    """
    try:
        newest = next((batch.batch for batch in records.batches() if batch.kettle == kettle), None)
        if newest is None:
            return ()
        came_to: object = None
        standing = {record.cause: record for record in records.header(newest).plan.left_over}
        for _, event in records.events(newest):
            cause = str(event.get("alarm"))
            if event.code is EventCode.ALARM_RAISED and event.get("safety"):
                standing[cause] = AlarmRecord(cause=cause, state=AlarmState.UNACKNOWLEDGED, safety=True, since_s=0.0)
            elif event.code is EventCode.ALARM_CHANGED and cause in standing:
                standing[cause] = replace(standing[cause], state=AlarmState(event.get("state")))
            elif event.code is EventCode.BATCH_STATE:
                came_to = event.get("to")
        if came_to in STOPPED_HEAT:
            (stopped,), _ = alarms.latched((), alarms.AlarmCause.HEAT_STOPPED, 0.0)
            standing.setdefault(stopped.cause, stopped)
    except JournalError as error:
        log.warning("kettle %s: no alarm is carried over from its last batch: %s", kettle, error)
        return ()
    return tuple(record for record in standing.values() if record.state is not AlarmState.NORMAL)


MOST_BATCHES = 8
"""That a trend is read from: what is older was another kettle."""


def trends_in(records: Records, kettle: KettleId) -> tuple[Trend, ...]:
    """What changes in a kettle over its last batches; nothing where the record cannot be read."""
    try:
        names = [batch.batch for batch in records.batches() if batch.kettle == kettle][:MOST_BATCHES]
        fits = [fit_of(event for _, event in records.events(name)) for name in reversed(names)]
    except JournalError as error:
        log.warning("kettle %s: no trend can be told: %s", kettle, error)
        return ()
    return trends([fit for fit in fits if fit is not None])
