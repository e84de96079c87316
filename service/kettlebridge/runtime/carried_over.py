"""What a kettle's earlier batches taught, out of the record and into its next plan."""

from __future__ import annotations

import logging

from kettlebridge.core.learning import learnt_from, still_of
from kettlebridge.model.errors import JournalError
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
