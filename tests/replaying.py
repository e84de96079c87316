"""Every record that tests leave is run through the core once more: the same inputs make the same events and hash."""

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


@pytest.fixture(scope="module")
def records_replay(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Fails a module with a record that does not replay: each folder that its tests and fixtures had made, once.

    Looked at when all of them are gone, so a day may be lived in a fixture, or go on from one test to the next.
    """
    folders = tmp_path_factory.getbasetemp()
    before = frozenset(folders.iterdir())
    yield
    made = [folder for folder in sorted(folders.iterdir()) if folder not in before and not folder.is_symlink()]
    if found := [difference for folder in made for difference in differences(folder)]:
        pytest.fail("\n".join(("not replayed to the recorded events:", *found)), pytrace=False)
