"""One question and its answer at a time, on the Clock port.

pymodbus's own client is not used: it waits on the loop's time, and it repeats an unanswered request as it was. A
repeated "on" is what this service must never send, so a request goes out once; whether to ask anew is the asker's.
"""

from __future__ import annotations

import asyncio
from typing import Any

from kettlebridge.drivers.modbus.codec import GARBLED, SILENT, Answer, Codec, Request, Trouble
from kettlebridge.drivers.modbus.port import Port
from kettlebridge.drivers.modbus.settings import ModbusSettings
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.ports import Clock

ANSWER_S = 0.3
"""How long a module may take. Those on the market answer within 50 ms; a gateway that needs longer is of no use."""

LONGEST_ANSWER_BYTES = 256

SETTLING_S = 0.05
"""After silence or damage: what is still on its way must not be taken for the answer to the next question."""

QUIET_CHARACTERS = 3.5
LEAST_QUIET_S = 0.00175
"""Between frames (MODBUS over Serial Line 1.02, 2.5.1.1): for baud rates above 19200 the latter."""

CHARACTER_BITS = 11


def quiet_s(baud: int) -> float:
    """How long the line must be silent between two frames."""
    return max(LEAST_QUIET_S, QUIET_CHARACTERS * CHARACTER_BITS / baud)


class Exchange:
    """Asks over an open port. Not to be asked again before it has answered."""

    def __init__(self, port: Port, settings: ModbusSettings, clock: Clock) -> None:
        self._port = port
        self._path = settings.port
        self._clock = clock
        self._quiet_s = quiet_s(settings.map.baud)
        self._free_s = clock.now_s()
        self._codec = Codec()
        self._request: Request | None = None
        self._heard = b""
        self._answer: asyncio.Future[Answer | Trouble] | None = None
        self._hung_up = False
        port.hear = self._hear
        port.hang_up = self._hang_up

    async def ask(self, request: Request) -> Answer | Trouble:
        """The answer, or why there is none. Raises LinkError LOST when the port is gone."""
        frame = self._codec.encode(request)
        if self._free_s > self._clock.now_s():
            await self._clock.sleep_until(self._free_s)
        self._port.drain()
        settling_s = SETTLING_S
        self._heard = b""
        self._request = request
        self._answer = asyncio.get_running_loop().create_future()
        try:
            self._port.write(frame)
            said = SILENT if self._hung_up else await self._within_time(self._answer)
            if self._hung_up:
                raise LinkError(LinkReason.LOST, f"{self._path} hung up")
            if said not in {SILENT, GARBLED}:
                settling_s = self._quiet_s
            return said
        finally:
            self._free_s = self._clock.now_s() + settling_s
            self._request = None
            self._answer = None

    async def _within_time(self, answer: asyncio.Future[Answer | Trouble]) -> Answer | Trouble:
        asked_s = self._clock.now_s()
        limit = asyncio.create_task(self._until(asked_s + ANSWER_S), name=f"{self._path} answer")
        both: set[asyncio.Future[Any]] = {answer, limit}
        try:
            await asyncio.wait(both, return_when=asyncio.FIRST_COMPLETED)
        finally:
            limit.cancel()
            await asyncio.wait({limit})
        if answer.done():
            return answer.result()
        return GARBLED if self._heard else SILENT

    async def _until(self, when_s: float) -> None:
        await self._clock.sleep_until(when_s)

    def _hear(self, data: bytes) -> None:
        """Bytes that nobody asked for are no answer to what is asked next."""
        if self._request is None or self._answer is None or self._answer.done():
            return
        self._heard += data
        if len(self._heard) > LONGEST_ANSWER_BYTES:
            self._answer.set_result(GARBLED)
            return
        said = self._codec.decode(self._request, self._heard)
        if said is not None:
            self._answer.set_result(said)

    def _hang_up(self) -> None:
        self._hung_up = True
        if self._answer is not None and not self._answer.done():
            self._answer.set_result(SILENT)
