"""All outputs of a board off, without a session: for when no service is there to do it."""

from __future__ import annotations

from kettlebridge.drivers.serial_line.frames import Off, Report
from kettlebridge.drivers.serial_line.line import Line, open_line, sequence_numbers
from kettlebridge.drivers.serial_line.settings import SerialLineSettings
from kettlebridge.drivers.serial_line.time_limit import time_limit
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.ports import Clock

PATIENCE_S = 6.0
"""Opening the port resets many boards, and they need seconds to boot."""

AGAIN_S = 0.5
PASSED_BY = 1
"""Reports that may have been on their way before the board obeyed."""


async def switch_off(settings: SerialLineSettings, clock: Clock) -> None:
    """Returns once the board reports every output off. Whoever answers obeys: nobody is asked for an id first.

    Raises LinkError where it never does.
    """
    line = await open_line(settings.port, clock, sequence_numbers())
    try:
        give_up_s = clock.now_s() + PATIENCE_S
        seen: list[Report] = []
        while clock.now_s() < give_up_s:
            line.send(Off())
            try:
                async with time_limit(clock, min(clock.now_s() + AGAIN_S, give_up_s)):
                    while not _is_off(seen):
                        await _hear(line, seen)
                    return
            except TimeoutError:
                continue
    finally:
        await line.close()
    said = "reports an output that is on" if seen else "does not answer"
    raise LinkError(LinkReason.NO_ANSWER, f"the board on {settings.port} {said} after {PATIENCE_S:g} s of all off")


async def _hear(line: Line, seen: list[Report]) -> None:
    frame = (await line.frame()).frame
    if isinstance(frame, Report):
        seen.append(frame)


def _is_off(seen: list[Report]) -> bool:
    if len(seen) <= PASSED_BY:
        return False
    last = seen[-1]
    return not (last.heater_permille or last.pump_on or last.contactor_on)
