"""Every record that a test leaves is run through the core once more: the same inputs make the same events and hash."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from kettlebridge.app import CORE, JOURNAL_NAME, records_in
from kettlebridge.runtime.replay import event_hash, replay


def differences(folder: Path) -> Iterator[str]:
    """Every batch in the records under `folder` whose replay parts from it. One that lost ticks cannot be replayed."""
    for journal in sorted(path for path in folder.rglob(JOURNAL_NAME) if path.is_file()):
        records = records_in(journal.parent)
        for summary in records.batches():
            if summary.incomplete_from is not None:
                continue
            batch = summary.batch
            recorded = event_hash(records.events(batch))
            again = replay(CORE, records.header(batch).plan, records.ticks(batch), records.events(batch))
            if again.event_hash != recorded or again.ticks != summary.ticks:
                yield f"{batch} in {journal}: {summary.ticks} ticks, {recorded}; again: {again}"


@pytest.fixture
def records_replay(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fails a test whose records under its `tmp_path` do not replay."""
    folder: Path | None = request.getfixturevalue("tmp_path") if "tmp_path" in request.fixturenames else None
    yield
    if folder is not None and (found := list(differences(folder))):
        pytest.fail("\n".join(("not replayed to the recorded events:", *found)), pytrace=False)
