"""A file system under SQLite that notes every write, may fail the n-th, and knows what a power cut can leave of them.

It hangs under apsw's own SQLite, which writes the same file format by the same rules as Python's. What a disk may do
is taken from https://sqlite.org/atomiccommit.html, section 2: what was synced stays; of what was written since, any
part may be there in any order, and a write may be torn.
"""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import apsw
import pytest

from kettlebridge.journal import schema

SECTOR_BYTES = 512


@dataclass(frozen=True, slots=True, kw_only=True)
class Write:
    """`data` at `offset` of `file`; data None: cut off there."""

    file: str
    offset: int
    data: bytes | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sync:
    """All that was written to `file` is on the disk; `lost`: the disk said no, and it never will be."""

    file: str
    lost: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Delete:
    """`file` is gone."""

    file: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Somebody was told at this point that tick `n` is on disk."""

    n: int


Act = Write | Sync | Delete | Told
Image = dict[str, bytes]


class Recorder(apsw.VFS):
    """`acts` is all that was done. `fails(act)` gives the error to raise instead of doing it.

    `checkpoint_pages`: SQLite's own 1000 would put one checkpoint at the end; fewer put them everywhere.
    """

    def __init__(self, name: str, checkpoint_pages: int) -> None:
        self.name = name
        self.checkpoint_pages = checkpoint_pages
        self.acts: list[Act] = []
        self.fails: Callable[[Act], Exception | None] = lambda _: None
        super().__init__(name, "")

    def xOpen(self, name: Any, flags: list[int]) -> apsw.VFSFile:  # noqa: N802 - SQLite's names
        return _File(self, name, flags)

    def xDelete(self, name: str, syncdir: bool) -> None:  # noqa: N802
        super().xDelete(name, syncdir)
        self.acts.append(Delete(file=Path(name).name))

    def do(self, act: Act) -> None:
        """Notes it, or raises."""
        error = self.fails(act)
        if error is not None:
            if isinstance(act, Sync):
                self.acts.append(Sync(file=act.file, lost=True))
            raise error
        self.acts.append(act)


class _File(apsw.VFSFile):
    def __init__(self, recorder: Recorder, name: Any, flags: list[int]) -> None:
        self._recorder = recorder
        self._name = Path(name.filename() if isinstance(name, apsw.URIFilename) else str(name)).name
        super().__init__("", name, flags)

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802
        self._recorder.do(Write(file=self._name, offset=offset, data=bytes(data)))
        super().xWrite(data, offset)

    def xTruncate(self, newsize: int) -> None:  # noqa: N802
        self._recorder.do(Write(file=self._name, offset=newsize, data=None))
        super().xTruncate(newsize)

    def xSync(self, flags: int) -> None:  # noqa: N802
        self._recorder.do(Sync(file=self._name))  # and no more: what a sync is good for, Disk knows


class Connection:
    """As much of a `sqlite3.Connection` as the journal uses, on apsw, with the errors of sqlite3.

    SQLite ignores a checkpoint that fails, behind a commit or on closing: the log still has everything. apsw would
    raise what the file system raised all the same, so checkpoints are made here, by the same rule.
    """

    def __init__(self, path: Path, recorder: Recorder) -> None:
        self._own = _translated(lambda: apsw.Connection(str(path), vfs=recorder.name))
        self._pages = recorder.checkpoint_pages
        self._own.set_wal_hook(self._committed)

    def _committed(self, own: Any, _database: str, pages: int) -> int:
        if pages >= self._pages:
            with suppress(apsw.Error):
                own.wal_checkpoint()
        return int(apsw.SQLITE_OK)

    @property
    def in_transaction(self) -> bool:
        return bool(self._own.in_transaction)

    def execute(self, sql: str, values: Any = None) -> Any:
        return _translated(lambda: self._own.execute(sql, values))

    def executemany(self, sql: str, values: Any) -> Any:
        return _translated(lambda: self._own.executemany(sql, values))

    def close(self) -> None:
        with suppress(apsw.Error):
            self._own.close()


@contextmanager
def beneath(recorder: Recorder) -> Iterator[None]:
    """What is opened to write within is written through it. What is opened to read is not, nor at the same time."""
    connect = schema.connect

    def either(path: Path, *, read_only: bool) -> sqlite3.Connection | Connection:
        return connect(path, read_only=True) if read_only else Connection(path, recorder)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(schema, "connect", either)
        yield


NAMES = {
    apsw.FullError: (sqlite3.SQLITE_FULL, "SQLITE_FULL"),
    apsw.IOError: (sqlite3.SQLITE_IOERR, "SQLITE_IOERR"),
}


def _translated(work: Callable[[], Any]) -> Any:
    try:
        return work()
    except apsw.Error as error:
        kind = sqlite3.IntegrityError if isinstance(error, apsw.ConstraintError) else sqlite3.OperationalError
        raised = kind(str(error))
        raised.sqlite_errorcode, raised.sqlite_errorname = NAMES.get(type(error), (0, "SQLITE_ERROR"))
        raise raised from error


@dataclass(slots=True)
class Disk:
    """What is certainly there, and what may be."""

    durable: dict[str, bytearray] = field(default_factory=dict)
    pending: list[Write] = field(default_factory=list)

    def do(self, act: Act) -> None:
        match act:
            case Write():
                self.pending.append(act)
            case Sync(file=file, lost=lost):
                if not lost:
                    _apply(self.durable, [write for write in self.pending if write.file == file])
                self.pending = [write for write in self.pending if write.file != file]
            case Delete(file=file):
                self.durable.pop(file, None)
                self.pending = [write for write in self.pending if write.file != file]
            case Told():
                pass

    def image(self, writes: Sequence[Write]) -> Image:
        """What is there when of all pending ones just `writes` came through."""
        files = {name: bytearray(content) for name, content in self.durable.items()}
        _apply(files, writes)
        return {name: bytes(content) for name, content in files.items()}


def _apply(files: dict[str, bytearray], writes: Sequence[Write]) -> None:
    for write in writes:
        content = files.setdefault(write.file, bytearray())
        if write.data is None:
            del content[write.offset :]
            continue
        if len(content) < write.offset:
            content.extend(bytes(write.offset - len(content)))
        content[write.offset : write.offset + len(write.data)] = write.data


def images(acts: Sequence[Act], seed: int) -> Iterator[tuple[int, Image]]:
    """(acts done, what a power cut leaves) after every act: nothing pending, all, the last torn, and a random part."""
    chance = random.Random(seed)  # noqa: S311  # no secrets here
    disk = Disk()
    yield 0, {}
    for done, act in enumerate(acts, 1):
        disk.do(act)
        pending = disk.pending
        yield done, disk.image([])
        if not pending:
            continue
        yield done, disk.image(pending)
        yield done, disk.image([*pending[:-1], _torn(pending[-1])])
        yield done, disk.image([write for write in pending if chance.random() < 0.5])


def _torn(write: Write) -> Write:
    """The first part of it, in whole sectors where it has more than one."""
    if write.data is None:
        return write
    half = len(write.data) // 2
    kept = half // SECTOR_BYTES * SECTOR_BYTES or half
    return Write(file=write.file, offset=write.offset, data=write.data[:kept])


def laid_down(image: Image, folder: Path) -> None:
    """Writes the image into an empty folder."""
    folder.mkdir()
    for name, content in image.items():
        (folder / name).write_bytes(content)
