"""Promise 34: damaged files are refused with the place, or read as what they now say; nothing else ever happens.

A text file has no checksum: a flipped bit that makes another number of it, within its range, is another number. The
record is held against its own structure on opening; a bit flipped in a value that stays a value is not found there.
"""

from __future__ import annotations

import asyncio
import random
from collections.abc import Callable
from pathlib import Path

import pytest

from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.files.profile_file import load_profile
from kettlebridge.journal.opening import open_to_write
from kettlebridge.journal.queries import SqliteRecords
from kettlebridge.journal.store import open_journal
from kettlebridge.model.errors import FileError, JournalError
from tests.journal.builders import entry, header
from tests.journal.gate import ThreadBoundGate

Load = Callable[[Path], object]
LOADERS: dict[str, Load] = {"kettles/thimble.toml": load_kettle, "profiles/quillet_bitter.toml": load_profile}
FLIPS = 400
JOURNAL_FLIPS = 150
BATCHES = ("copper-1", "copper-2", "copper-3")
TICKS = 200


def _damaged(whole: bytes, at_bit: int) -> bytes:
    flipped = bytearray(whole)
    flipped[at_bit // 8] ^= 1 << at_bit % 8
    return bytes(flipped)


def _refused(load: Load, path: Path) -> FileError | None:
    try:
        load(path)
    except FileError as error:
        return error
    return None


def _see_that_it_names_the_place(error: FileError, path: Path) -> None:
    assert error.mistakes
    for mistake in error.mistakes:
        assert mistake.path == str(path)
        assert mistake.what
        assert mistake.line is None or 1 <= mistake.line <= len(path.read_bytes().split(b"\n"))


@pytest.mark.parametrize("name", LOADERS)
def test_a_flipped_bit_in_a_file_is_refused_with_the_place_or_is_another_value(name: str, tmp_path: Path) -> None:
    chance = random.Random(34)  # noqa: S311  # no secrets here
    whole = (config_folder() / name).read_bytes()
    path = tmp_path / "damaged.toml"
    refused = placed = 0
    for at_bit in chance.sample(range(8 * len(whole)), FLIPS):
        path.write_bytes(_damaged(whole, at_bit))
        error = _refused(LOADERS[name], path)
        if error is not None:
            _see_that_it_names_the_place(error, path)
            refused += 1
            placed += any(mistake.line is not None or mistake.key for mistake in error.mistakes)
    assert refused > FLIPS / 10
    assert placed > 0.9 * refused


@pytest.mark.parametrize("name", LOADERS)
def test_a_file_cut_anywhere_is_refused_with_the_place_or_is_a_shorter_whole(name: str, tmp_path: Path) -> None:
    whole = (config_folder() / name).read_bytes()
    path = tmp_path / "cut.toml"
    refused = 0
    for length in range(0, len(whole), 11):
        path.write_bytes(whole[:length])
        error = _refused(LOADERS[name], path)
        if error is not None:
            _see_that_it_names_the_place(error, path)
            refused += 1
    assert refused > 20


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """A record of three batches."""
    path = tmp_path / "journal.db"

    async def write() -> None:
        async with open_journal(path, gate=ThreadBoundGate(), program="0.1.0") as one:
            for batch in BATCHES:
                await one.begin(header(batch))
                for n in range(TICKS):
                    one.record(entry(n, batch=batch))

    asyncio.run(write())
    return path


def _readable(path: Path) -> dict[str, bool]:
    """By batch: whether all of it reads as it was written. A batch that does not is refused, or differs in a value."""
    whole = {}
    for batch in BATCHES:
        try:
            ticks = list(SqliteRecords(path, program="0.1.0").ticks(header(batch).batch))
        except JournalError as error:
            whole[batch] = False
            placed = str(path) in str(error)
        else:
            placed = True
            whole[batch] = ticks == [(n, entry(n).inputs) for n in range(TICKS)]
        assert placed
    return whole


def _why_refused(path: Path) -> str | None:
    try:
        open_to_write(path, "0.1.0").close()
    except JournalError as error:
        return str(error)
    return None


@pytest.mark.slow
def test_a_flipped_bit_in_the_record_is_refused_with_the_place_or_touches_one_batch(journal: Path) -> None:
    chance = random.Random(34)  # noqa: S311  # no secrets here
    whole = journal.read_bytes()
    refused = touched = several = 0
    for at_bit in chance.sample(range(8 * len(whole)), JOURNAL_FLIPS):
        journal.write_bytes(_damaged(whole, at_bit))
        before = journal.read_bytes()
        readable = _readable(journal)
        told = _why_refused(journal)
        if told is not None:
            assert str(journal) in told
            assert journal.read_bytes() == before
            refused += 1
        touched += not all(readable.values())
        several += list(readable.values()).count(False) > 1
    assert refused > 3
    assert touched > 10
    assert several <= 0.05 * JOURNAL_FLIPS  # the roots of the tables belong to all


def test_a_record_cut_anywhere_is_refused_with_the_place_and_what_is_left_can_be_read(journal: Path) -> None:
    whole = journal.read_bytes()
    some_left = 0
    for length in (1, 100, *range(2000, len(whole), len(whole) // 40), len(whole) - 4096, len(whole) - 1):
        journal.write_bytes(whole[:length])
        with pytest.raises(JournalError) as refused:
            open_to_write(journal, "0.1.0")
        assert str(journal) in str(refused.value)
        assert journal.read_bytes() == whole[:length]
        some_left += any(_readable(journal).values())
    assert some_left > 1  # a cut near the end; one further in takes pages that all batches share
