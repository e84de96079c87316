"""The other end of the control socket: one question and its answer, or snapshots as they come.

It loads next to nothing, so that a command is on its way at once.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncGenerator
from contextlib import aclosing
from pathlib import Path

from kettlebridge.model.errors import OperatorError
from kettlebridge.model.ids import KettleId

SOCKET_NAME = "control.sock"
"""In the folder of a service's state."""

ANSWER_S = 15.0
"""How long an answer is waited for: a kettle ticks every second, but what is recorded waits for the disk."""

SnapshotJson = dict[str, object]


async def ask(path: Path, request: dict[str, object]) -> dict[str, object]:
    """Sends one request and gives its answer. Raises OperatorError: nobody serves there, it is refused, no answer."""
    try:
        async with asyncio.timeout(ANSWER_S), aclosing(_answers(path, request)) as answers:
            async for answer in answers:
                return answer
    except TimeoutError:
        raise OperatorError(
            f"{path}: no answer within {ANSWER_S:g} s. What the kettle does is not known here: look at the kettle "
            "itself, and switch it off there if in doubt."
        ) from None
    raise _gone(path)


async def watch(path: Path, kettle: KettleId) -> AsyncGenerator[SnapshotJson, None]:
    """Snapshots of `kettle` as JSON until the service goes. Raises OperatorError."""
    async with aclosing(_answers(path, {"watch": kettle})) as answers:
        async for answer in answers:
            snapshot = answer["snapshot"]
            if isinstance(snapshot, dict):
                yield snapshot


async def _answers(path: Path, request: dict[str, object]) -> AsyncGenerator[dict[str, object], None]:
    """The lines that answer `request`. Raises OperatorError for an error line or a socket nobody serves."""
    try:
        reader, writer = await asyncio.open_unix_connection(path)
    except OSError as error:
        raise OperatorError(
            f"{path}: no service listens there ({error.strerror}). See that it runs; --state names its folder"
        ) from error
    try:
        writer.write(json.dumps(request).encode("ascii") + b"\n")
        await writer.drain()
        while line := await reader.readline():
            answer = json.loads(line)
            if "error" in answer:
                raise OperatorError(answer["error"])
            yield answer
    except OSError as error:
        raise _gone(path) from error
    finally:
        writer.close()


def _gone(path: Path) -> OperatorError:
    return OperatorError(f"{path}: the service went away; look at the kettle, and whether the service runs")
