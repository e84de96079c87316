"""Who may open a journal, and that whatever is refused stays as it was."""

from __future__ import annotations

import asyncio
import hashlib
import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from kettlebridge.app import CORE
from kettlebridge.journal import opening, schema
from kettlebridge.journal.opening import open_to_write
from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.schema import APPLICATION_ID, Migration, migrate, migrations, statements
from kettlebridge.journal.store import open_journal
from kettlebridge.model.errors import JournalError
from kettlebridge.model.fermentation import FermentReading, ProbeReading
from kettlebridge.ports import BatchHeader
from kettlebridge.runtime.replay import replay
from tests.journal.builders import entry, header
from tests.journal.gate import ThreadBoundGate


@pytest.fixture
def written(path: Path) -> Path:
    """A journal of two batches of 400 ticks, closed."""

    async def write() -> None:
        async with open_journal(path, gate=ThreadBoundGate(), program="0.1.0") as journal:
            for batch in ("copper-1", "copper-2"):
                await journal.begin(header(batch))
                for n in range(400):
                    journal.record(entry(n, batch=batch))

    asyncio.run(write())
    return path


def _make_newer(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 7")


def _make_another_programs(path: Path) -> None:
    path.unlink()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE songs (title TEXT)")


def _make_text(path: Path) -> None:
    path.write_text("It was a dark and stormy night, and the boil-over had reached the hob.\n" * 20)


def _cut(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size // 2)


def _flip_a_page(path: Path) -> None:
    with path.open("r+b") as file:
        file.seek(path.stat().st_size // 2 // 4096 * 4096)
        file.write(b"\xff" * 64)


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (_make_newer, r"version 7, made by a newer program; this one \(0\.1\.0\) reads up to version 3"),
        (_make_another_programs, "another program's SQLite database"),
        (_make_text, "not a journal"),
        (_cut, "damaged"),
        (_flip_a_page, "damaged"),
    ],
)
def test_what_cannot_be_written_to_safely_is_refused_and_stays_as_it_was(
    written: Path, harm: Callable[[Path], None], words: str
) -> None:
    harm(written)
    before = hashlib.sha256(written.read_bytes()).hexdigest()
    with pytest.raises(JournalError, match=words) as refusal:
        open_to_write(written, "0.1.0")
    assert str(written) in str(refusal.value)
    assert hashlib.sha256(written.read_bytes()).hexdigest() == before
    with pytest.raises(JournalError, match=words):  # the lock was let go
        open_to_write(written, "0.1.0")


def test_every_flipped_page_is_found_or_harms_no_other_batch(written: Path) -> None:
    """What one bad page takes with it: at most the batches whose rows are on it."""
    whole = written.read_bytes()
    pages = len(whole) // 4096
    lost_both = 0
    for page in range(1, pages):
        written.write_bytes(whole[: page * 4096] + b"\xff" * 4096 + whole[(page + 1) * 4096 :])
        with pytest.raises(JournalError, match="damaged"):
            open_to_write(written, "0.1.0")
        readable = 0
        for batch in ("copper-1", "copper-2"):
            try:
                rows = list(SqliteRecords(written, program="0.1.0").ticks(header(batch).batch))
            except JournalError:
                continue
            assert [n for n, _ in rows] == list(range(400))
            readable += 1
        lost_both += readable == 0
    # The roots of the tables and of the name index are shared by all batches; leaves are not, bar the one at the seam.
    assert lost_both <= 5
    assert pages > 20


def test_a_file_that_this_user_may_not_write_to_is_refused(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    open_to_write(path, "0.1.0").close()
    before = path.read_bytes()
    monkeypatch.setattr(os, "access", lambda *_: False)  # a superuser, as tests may run, is allowed everything
    with pytest.raises(JournalError, match="may not write"):
        open_to_write(path, "0.1.0")
    assert path.read_bytes() == before


def test_a_folder_or_a_place_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="not a file"):
        open_to_write(tmp_path, "0.1.0")
    with pytest.raises(JournalError, match="no folder"):
        open_to_write(tmp_path / "nowhere" / "journal.db", "0.1.0")
    (tmp_path / "j.db.lock").mkdir()
    with pytest.raises(JournalError, match="cannot be opened to write"):
        open_to_write(tmp_path / "j.db", "0.1.0")
    assert not (tmp_path / "j.db").exists()


def test_an_sqlite_too_old_is_named(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 31, 1))
    with pytest.raises(JournalError, match=r"3\.37 or newer"):
        open_to_write(path, "0.1.0")


def test_a_second_writer_is_refused_until_the_first_has_closed(path: Path) -> None:
    first = open_to_write(path, "0.1.0")
    with pytest.raises(JournalError, match="another running service"):
        open_to_write(path, "0.1.0")
    first.close()
    open_to_write(path, "0.1.0").close()


def test_an_empty_file_becomes_a_journal(path: Path) -> None:
    path.touch()
    open_to_write(path, "0.1.0").close()
    assert SqliteRecords(path, program="0.1.0").batches() == ()


def test_a_journal_whose_making_was_cut_off_is_made_again(path: Path, tmp_path: Path) -> None:
    """The image of a crash in the first transaction: pages in the file, and a rollback journal that undoes them."""
    making = tmp_path / "making.db"
    with closing(sqlite3.connect(making, isolation_level=None)) as connection:
        connection.execute("PRAGMA cache_size = 1")
        connection.execute("BEGIN")
        connection.execute("CREATE TABLE half (made BLOB)")
        connection.executemany("INSERT INTO half VALUES (?)", [(b"x" * 3000,)] * 50)
        shutil.copy(making, path)
        shutil.copy(f"{making}-journal", f"{path}-journal")
    assert path.stat().st_size > 0
    open_to_write(path, "0.1.0").close()
    assert SqliteRecords(path, program="0.1.0").batches() == ()


def test_migrations_are_numbered_from_one_and_make_the_tables() -> None:
    known = migrations()
    assert [migration.number for migration in known] == list(range(1, len(known) + 1))
    assert "CREATE TABLE batch" in known[0].sql


def test_older_journals_are_brought_up_in_order_and_all_or_nothing(path: Path) -> None:
    first = Migration(number=1, sql="-- one; still one\nCREATE TABLE a (x);\nCREATE TABLE b (x);")
    second = Migration(number=2, sql="ALTER TABLE a ADD COLUMN y DEFAULT 'a;b';")
    broken = Migration(number=3, sql="CREATE TABLE c (x);\nINSERT INTO nowhere VALUES (1);")
    with closing(schema.connect(path, read_only=False)) as connection:
        migrate(connection, path, (first,))
        connection.execute("INSERT INTO a VALUES (1)")
        with pytest.raises(JournalError, match="from version 1 to 3"):
            migrate(connection, path, (first, second, broken))
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)
        assert connection.execute("SELECT * FROM a").fetchall() == [(1,)]
        migrate(connection, path, (first, second))
        assert connection.execute("PRAGMA user_version").fetchone() == (2,)
        assert connection.execute("SELECT * FROM a").fetchall() == [(1, "a;b")]
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)


def test_an_older_journal_is_read_only_once_it_was_brought_up(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    open_to_write(path, "0.1.0").close()
    newer = (*migrations(), Migration(number=4, sql="ALTER TABLE batch ADD COLUMN note TEXT;"))
    monkeypatch.setattr(schema, "migrations", lambda: newer)
    with pytest.raises(JournalError, match="of version 3"):
        SqliteRecords(path, program="0.2.0").batches()
    opening.open_to_write(path, "0.2.0").close()
    assert SqliteRecords(path, program="0.2.0").batches() == ()


def test_statements_are_told_apart_as_sqlite_does() -> None:
    sql = "CREATE TABLE a (x); -- not; here\nCREATE TRIGGER t AFTER INSERT ON a BEGIN\nDELETE FROM a;\nEND;\nSELECT 1"
    assert [statement.strip()[:14] for statement in statements(sql)] == ["CREATE TABLE a", "CREATE TRIGGER", "SELECT 1"]


def test_the_journal_of_version_1_reads_as_it_did(path: Path) -> None:
    """A file written by version 1, kept: what later versions do with it must not change it."""
    shutil.copy(Path(__file__).parent / "journals" / "version_1.journal", path)
    open_to_write(path, "0.1.0").close()
    records = SqliteRecords(path, program="0.1.0")
    kept: BatchHeader = header()
    assert records.header(kept.batch) == kept
    assert list(records.ticks(kept.batch)) == [(n, entry(n).inputs) for n in range(30)]
    assert len(list(records.events(kept.batch))) == 3
    assert records.fermentation(kept.batch) == ()


def test_what_older_versions_recorded_is_replayed_as_what_is_recorded_now(path: Path) -> None:
    """The core makes the same events of the inputs in each kept file as of those that are not in any."""
    plan, found = header().plan, []
    for version in (1, 2):
        shutil.copy(Path(__file__).parent / "journals" / f"version_{version}.journal", path)
        open_to_write(path, "0.1.0").close()
        found.append(replay(CORE, plan, SqliteRecords(path, program="0.1.0").ticks(header().batch), ()))
        path.unlink()
    now = replay(CORE, plan, ((n, entry(n).inputs) for n in range(30)), ())
    assert {(one.ticks, one.event_hash) for one in found} == {(now.ticks, now.event_hash)}
    assert now.difference is not None, "the core makes events of these inputs"


def test_the_journal_of_version_2_reads_as_it_did(path: Path) -> None:
    """The same batch as version 1 wrote, brought up, and a reading from its fermenter."""
    shutil.copy(Path(__file__).parent / "journals" / "version_2.journal", path)
    open_to_write(path, "0.1.0").close()
    records = SqliteRecords(path, program="0.1.0")
    reading = FermentReading(at_utc_s=1_760_500_000.5, read_sg=1.011, at_c=19.5, gravity_sg=1.0109)
    assert records.fermentation(header().batch) == (reading,)
    assert list(records.ticks(header().batch)) == [(n, entry(n).inputs) for n in range(30)]


def test_the_journal_of_version_3_reads_as_it_did(path: Path) -> None:
    """The same batch again, with what a probe told, and packaged."""
    shutil.copy(Path(__file__).parent / "journals" / "version_3.journal", path)
    open_to_write(path, "0.1.0").close()
    records = SqliteRecords(path, program="0.1.0")
    told = (
        ProbeReading(at_utc_s=1_760_400_000.25, at_c=19.25),
        ProbeReading(at_utc_s=1_760_403_600.25, at_c=19.5, gravity_sg=1.0345),
    )
    assert records.fermenter(header().batch) == told
    assert records.packaged_utc_s(header().batch) == 1_761_000_000.0
    assert len(records.fermentation(header().batch)) == 1
    assert list(records.ticks(header().batch)) == [(n, entry(n).inputs) for n in range(30)]
