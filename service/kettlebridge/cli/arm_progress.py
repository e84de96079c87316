"""How far an arming is, line by line, until the kettle is armed or it is known why not."""

from __future__ import annotations

from contextlib import aclosing
from pathlib import Path

from pydantic import TypeAdapter

from kettlebridge.cli.tell_lines import tell_line
from kettlebridge.documents.arming import progress
from kettlebridge.documents.calls import asked
from kettlebridge.model.ids import KettleId
from kettlebridge.model.snapshot import CallView, Snapshot
from kettlebridge.runtime.control_client import SOCKET_NAME, watch

SEEN = TypeAdapter(Snapshot)
ENDS = frozenset({"armed", "not_armed"})


async def told_until_armed(folder: Path, kettle: KettleId) -> bool:
    """Prints what changes; whether it is armed in the end. Raises OperatorError when the service goes away."""
    phase, calls = "", set[str]()
    async with aclosing(watch(folder / SOCKET_NAME, kettle)) as snapshots:
        async for one in snapshots:
            seen = SEEN.validate_python(one)
            arming = seen.arming
            if arming is None:
                return False
            if arming.phase != phase:
                phase = arming.phase
                print(progress(phase, arming.reason if phase == "not_armed" else None), flush=True)
            for call in seen.calls:
                if call.id not in calls:
                    calls.add(call.id)
                    print(_line(call, folder, kettle), flush=True)
            if phase in ENDS:
                return phase == "armed"
    return False


def _line(call: CallView, folder: Path, kettle: KettleId) -> str:
    words = asked(call)
    answer = f"Press the button there, or: {tell_line(folder, kettle, 'confirm', call.id, '--code CODE')}"
    return " ".join(part for part in (words.do, words.caution, answer) if part)
