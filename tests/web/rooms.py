"""A service in memory around the page: snapshots that tests publish, commands that are kept, a record that is short."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from urllib.parse import urlencode

from starlette.types import ASGIApp, Message, Scope

from kettlebridge.files.examples import config_folder
from kettlebridge.files.library import FolderLibrary
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.command import Command
from kettlebridge.model.errors import JournalError
from kettlebridge.model.event import Event
from kettlebridge.model.ids import BatchId, KettleId
from kettlebridge.model.inputs import Inputs
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import Profile
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.trace import Series, Span, Trace
from kettlebridge.ports import BatchHeader, BatchSummary, NotNext, Verdict
from kettlebridge.runtime.fan_out import FanOut
from kettlebridge.web.access import Access
from kettlebridge.web.hosts import Hosts
from kettlebridge.web.keys import KeyFile
from kettlebridge.web.site import site
from kettlebridge.web.surroundings import Surroundings
from tests.documents.builders import plan, snapshot

THIMBLE = KettleId("thimble")
SADDLE = KettleId("saddle")
PORT = 8470
HOST = f"127.0.0.1:{PORT}"
CODE = "4711"
BATCH = BatchId("thimble-20270115T080000")


class KeptCommands:
    """Takes everything, unless `refusal` says why not; `stalls`: never answers."""

    def __init__(self) -> None:
        self.taken: list[tuple[KettleId, Command]] = []
        self.refusal: str | None = None
        self.stalls = False

    async def submit(self, kettle: KettleId, command: Command) -> Verdict:
        self.taken.append((kettle, command))
        if self.stalls:
            await asyncio.get_running_loop().create_future()
        return Verdict(refused=self.refusal, n=101, recorded=True)


class KeptNext:
    """Takes every profile, unless `refusal` says why not."""

    def __init__(self) -> None:
        self.taken: list[tuple[KettleId, Profile]] = []
        self.refusal: NotNext | None = None

    def kettle(self, kettle: KettleId) -> Kettle:
        return replace(plan().kettle, name=kettle)

    def prepare(self, kettle: KettleId, profile: Profile) -> NotNext | None:
        if self.refusal is None:
            self.taken.append((kettle, profile))
        return self.refusal


class ShortRecord:
    """One batch."""

    def batches(self) -> tuple[BatchSummary, ...]:
        return (
            BatchSummary(
                batch=BATCH, kettle=THIMBLE, profile="Short <day>", started_utc_s=1_800_000_000.0, ended=None, ticks=100
            ),
        )

    def header(self, batch: BatchId) -> BatchHeader:
        if batch != BATCH:
            raise JournalError(f"there is no batch {batch}")
        return BatchHeader(
            batch=batch, kettle=THIMBLE, plan=plan(), started_utc_s=1_800_000_000.0, program="0", python="3"
        )

    def ticks(self, batch: BatchId) -> Iterator[tuple[int, Inputs]]:
        return iter(())

    def events(self, batch: BatchId) -> Iterator[tuple[int, Event]]:
        return iter(())

    def fermentation(self, batch: BatchId) -> tuple[()]:
        return ()

    def unfinished(self, kettle: KettleId) -> BatchId | None:
        return None


class ShortCourse:
    """Its course."""

    async def of(self, batch: BatchId) -> Trace:
        if batch != BATCH:
            raise JournalError(f"there is no batch {batch}")
        series = Series(
            at_s=(0.0, 50.0, 100.0),
            temperature_c=(60.0, None, 66.4),
            target_c=(66.0, 66.0, 66.0),
            heater_fraction=(1.0, 0.5, 0.0),
        )
        return Trace(batch=batch, series=series, spans=self.spans(batch), last=snapshot())

    def spans(self, batch: BatchId) -> tuple[Span, ...]:
        return ()


@dataclass
class Answered:
    """An answer: its body is whole unless it streams."""

    status: int
    headers: list[tuple[str, str]]
    body: bytes

    @property
    def text(self) -> str:
        """As it is read: a space is a space."""
        return self.body.decode().replace("\N{NO-BREAK SPACE}", " ")

    @property
    def json(self) -> dict[str, object]:
        made = json.loads(self.body)
        assert isinstance(made, dict)
        return made

    def header(self, name: str) -> str:
        return next((value for key, value in self.headers if key == name), "")


@dataclass
class House:
    """The page and what it stands on."""

    app: ASGIApp
    commands: KeptCommands
    snapshots: FanOut
    stop: asyncio.Event
    next_batches: KeptNext = field(default_factory=KeptNext)
    headers: dict[str, str] = field(default_factory=dict)

    async def ask(
        self,
        method: str,
        path: str,
        body: bytes = b"",
        headers: dict[str, str] | None = None,
        address: str = "10.0.0.7",
    ) -> Answered:
        """One request with its whole answer."""
        sent: list[Message] = []
        given = {"host": HOST, "content-length": str(len(body))} | self.headers | (headers or {})
        handed = False

        async def receive() -> Message:
            nonlocal handed
            if handed:
                await asyncio.get_running_loop().create_future()
            handed = True
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(message: Message) -> None:
            sent.append(message)

        await self.app(_scope(method, path, given, address), receive, send)
        start = next(message for message in sent if message["type"] == "http.response.start")
        return Answered(
            status=start["status"],
            headers=[(key.decode(), value.decode()) for key, value in start["headers"]],
            body=b"".join(message.get("body", b"") for message in sent[1:]),
        )

    async def get(self, path: str, **headers: str) -> Answered:
        return await self.ask("GET", path, headers=headers)

    async def post(self, path: str, fields: dict[str, str], headers: dict[str, str] | None = None) -> Answered:
        """A form."""
        form = {"content-type": "application/x-www-form-urlencoded"}
        return await self.ask("POST", path, urlencode(fields).encode(), form | (headers or {}))

    async def tell(self, told: object, headers: dict[str, str] | None = None, kettle: str = THIMBLE) -> Answered:
        """A command as JSON."""
        raw = told if isinstance(told, bytes) else json.dumps(told).encode()
        form = {"content-type": "application/json"}
        return await self.ask("POST", f"/api/kettles/{kettle}/tell", raw, form | (headers or {}))

    @asynccontextmanager
    async def stream(self, path: str, headers: dict[str, str] | None = None) -> AsyncIterator[asyncio.Queue[bytes]]:
        """The chunks of an answer as they come; the client goes away at the end."""
        chunks: asyncio.Queue[bytes] = asyncio.Queue()
        gone = asyncio.Event()

        async def receive() -> Message:
            await gone.wait()
            return {"type": "http.disconnect"}

        async def send(message: Message) -> None:
            if message["type"] == "http.response.body":
                chunks.put_nowait(message.get("body", b""))

        scope = _scope("GET", path, {"host": HOST} | (headers or {}), "10.0.0.7")
        task = asyncio.ensure_future(self.app(scope, receive, send))
        try:
            yield chunks
        finally:
            gone.set()
            await task


def _scope(method: str, path: str, headers: dict[str, str], address: str) -> Scope:
    plain, _, query = path.partition("?")
    return {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": plain,
        "raw_path": plain.encode(),
        "query_string": query.encode(),
        "root_path": "",
        "headers": [(name.lower().encode(), value.encode()) for name, value in headers.items()],
        "client": (address, 50000),
        "server": ("127.0.0.1", PORT),
    }


def surroundings(
    commands: KeptCommands,
    snapshots: FanOut,
    *,
    kettles: tuple[KettleId, ...] = (THIMBLE,),
    hurried: bool = False,
    next_batches: KeptNext | None = None,
) -> Surroundings:
    """What a page stands on."""
    return Surroundings(
        kettles=kettles,
        commands=commands,
        snapshots=snapshots,
        records=ShortRecord(),
        traces=ShortCourse(),
        time=zone_time("UTC"),
        at_kettle=lambda _kettle, code: code == CODE,
        library=FolderLibrary((config_folder() / "recipes",), (config_folder() / "profiles",)),
        next_batches=next_batches,
        hurried=hurried,
    )


def house(
    *,
    kettles: tuple[KettleId, ...] = (THIMBLE,),
    keys: KeyFile | None = None,
    hurried: bool = False,
    speaks: bool = True,
    note: Callable[[], str] = str,
) -> House:
    """A house with a kettle in the middle of its rest."""
    commands, snapshots, stop = KeptCommands(), FanOut(), asyncio.Event()
    next_batches = KeptNext()
    around = surroundings(commands, snapshots, kettles=kettles, hurried=hurried, next_batches=next_batches)
    around = replace(around, note=note)
    if speaks:
        for kettle in kettles:
            snapshots.publish(seen(kettle=kettle), ())
    app = site(around, Hosts(PORT), Access(keys or KeyFile()), stop)
    return House(app, commands, snapshots, stop, next_batches)


def seen(n: int = 100, *, kettle: KettleId = THIMBLE, **changes: object) -> Snapshot:
    """The kettle's view at tick `n`."""
    return replace(snapshot(), n=n, kettle=kettle, **changes)  # type: ignore[arg-type]  # fields by name
