"""What a kettle's earlier batches taught, out of the record and into its next plan."""

from __future__ import annotations

import logging

from kettlebridge.brewing.trend import Trend, fit_of, trends
from kettlebridge.core.learning import learnt_from, still_of
from kettlebridge.model.errors import JournalError
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
