"""`python -m kettlesim`: one board with its kettle, in its own process and in real time, on a pseudo-terminal.

Prints `ready PATH` once a host may open the port. Reads the brewer's acts from its input, one JSON object a line:
`{"act": "GrainIn", "kg": 5, "temp_c": 18}`, `{"press": "confirm"}`. Ends cleanly at SIGTERM.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import os
import re
import signal
import sys
import time
import typing
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TextIO

from kettlesim.wire_serial.clock import Gate
from kettlesim.wire_serial.fittings import Drive, Fittings, Input
from kettlesim.wire_serial.line import SerialBoard, board_in
from kettlesim.wire_serial.pins import Pin, Watch
from kettlesim.wire_serial.probes import Probe
from kettlesim.world import PROBES, Act, AddWater, Body, World

_ACTS: Mapping[str, type[Act]] = {act.__name__: act for act in typing.get_args(Act)}
_PLACES = {place: place for place in PROBES} | {"same_place": "control"}
"""As kettle files call a probe's role, and where it hangs: a second probe in the control probe's place hangs there."""
_ROM = re.compile(r"[0-9A-Fa-f]{16}")
_BUTTONS: Mapping[str, Input] = {"confirm": Input.CONFIRM, "stop": Input.STOP}


class _OpenGate:
    """Real time waits for nobody."""

    def shut(self, count: int = 1) -> None:
        """Does nothing."""

    def open(self, count: int = 1) -> None:
        """Does nothing."""


class _RealClock:
    """Boot time of this machine, which counts through suspend."""

    def now_s(self) -> float:
        """Seconds since the machine booted."""
        return time.clock_gettime(time.CLOCK_BOOTTIME)

    async def sleep_until(self, when_s: float) -> None:
        """Returns once `now_s() >= when_s`."""
        while (left_s := when_s - self.now_s()) > 0:  # noqa: ASYNC110 - the loop's clock stands still in suspend
            await asyncio.sleep(left_s)

    def gate(self, _name: str) -> Gate:
        """Always open."""
        return _OpenGate()


def _probe(text: str) -> Probe:
    """PLACE=ROMID."""
    place, _, rom = text.partition("=")
    if place not in _PLACES:
        raise argparse.ArgumentTypeError(f"{text!r} is not PLACE=ROMID: {place!r} is none of {', '.join(_PLACES)}")
    if not _ROM.fullmatch(rom):
        raise argparse.ArgumentTypeError(f"{text!r} is not PLACE=ROMID: {rom!r} is not 16 hex digits")
    return Probe(_PLACES[place], rom.upper())


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m kettlesim", description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--capacity-l", type=float, required=True, help="of the kettle, to the rim")
    parser.add_argument("--heater-w", type=float, required=True, help="of the element, at nominal mains")
    parser.add_argument("--altitude-m", type=float, default=0.0, help="default: %(default)s")
    parser.add_argument("--ambient-c", type=float, default=18.0, help="of the room; default: %(default)s")
    parser.add_argument("--fill-l", type=float, default=0.0, help="water in the kettle at the start")
    parser.add_argument("--fill-c", type=float, default=15.0, help="and its temperature; default: %(default)s")
    parser.add_argument("--id", default="28A4", help="of the board; default: %(default)s")
    parser.add_argument(
        "--drive", choices=[drive.value for drive in Drive], default="ssr", help="what switches the heater"
    )
    parser.add_argument(
        "--probe",
        type=_probe,
        action="append",
        metavar="PLACE=ROMID",
        help=f"a probe and the number it has; repeat for more. Places: {', '.join(_PLACES)}",
    )
    parser.add_argument("--seed", type=int, default=0, help="of noise, boot numbers and sessions")
    parser.add_argument("--link", type=Path, metavar="PATH", help="a symbolic link to the port")
    parser.add_argument(
        "--trace", type=Path, metavar="FILE", help="a line per change of a pin: monotonic s, pin, 0 or 1"
    )
    return parser


def _tracer(file: TextIO) -> Watch:
    """Writes the time of this very moment on the clock that all processes of the machine share."""

    def trace(pin: Pin, on: bool, _at_ms: int) -> None:
        file.write(f"{time.monotonic():.6f} {pin.value} {on:d}\n")
        file.flush()

    return trace


def _obey(serial: SerialBoard, line: str) -> None:
    """One line of input. Raises ValueError when it means nothing, or makes no sense just now."""
    said = json.loads(line)
    if not isinstance(said, dict):
        raise ValueError("an act is a JSON object")
    if said.get("press") in _BUTTONS:
        serial.press(_BUTTONS[said["press"]])
        return
    act = _ACTS.get(said.pop("act", ""))
    if act is None:
        raise ValueError(f"acts are {', '.join(_ACTS)}; or press one of {', '.join(_BUTTONS)}")
    try:
        serial.act(act(**said))
    except TypeError as error:
        raise ValueError(str(error)) from error


class _Acts:
    """Reads lines from the input without waiting for them; at its end the kettle goes on."""

    def __init__(self, serial: SerialBoard) -> None:
        self._serial = serial
        self._partial = b""

    @contextlib.contextmanager
    def listening(self) -> Iterator[None]:
        """Within it, each line is obeyed as it comes in."""
        loop = asyncio.get_running_loop()
        with contextlib.suppress(PermissionError):  # a plain file or the null device can't be waited for
            loop.add_reader(sys.stdin.fileno(), self._read)
        try:
            yield
        finally:
            loop.remove_reader(sys.stdin.fileno())

    def _read(self) -> None:
        data = os.read(sys.stdin.fileno(), 4096)
        if not data:
            asyncio.get_running_loop().remove_reader(sys.stdin.fileno())
            return
        *whole, self._partial = (self._partial + data).split(b"\n")
        for line in whole:
            try:
                _obey(self._serial, line.decode())
            except ValueError as error:
                sys.stderr.write(f"{error}\n")


@contextlib.contextmanager
def _linked(port: str, link: Path | None) -> Iterator[None]:
    """Within it, `link` points to the port. Raises OSError when something else than a link stands there."""
    if link is not None:
        if link.is_symlink():
            link.unlink()
        link.symlink_to(port)
    try:
        yield
    finally:
        if link is not None:
            link.unlink(missing_ok=True)


async def _serve(wanted: argparse.Namespace, trace: TextIO | None) -> None:
    body = Body.from_figures(capacity_l=wanted.capacity_l, heater_w=wanted.heater_w, altitude_m=wanted.altitude_m)
    world = World(body, seed=wanted.seed, ambient_c=wanted.ambient_c)
    if wanted.fill_l > 0:
        world.act(AddWater(wanted.fill_l, wanted.fill_c))
    fittings = Fittings(id=wanted.id, drive=Drive(wanted.drive))
    board = board_in(world, fittings=fittings, probes=wanted.probe, seed=wanted.seed)
    if trace is not None:
        board.outputs.pins.watch = _tracer(trace)
    serial = SerialBoard(_RealClock(), world, board)
    running = asyncio.create_task(serial.run(), name="board")
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, running.cancel)
    with _linked(serial.port, wanted.link), _Acts(serial).listening():
        sys.stdout.write(f"ready {serial.port}\n")
        sys.stdout.flush()
        with contextlib.suppress(asyncio.CancelledError):
            await running


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one board until SIGTERM or Ctrl-C."""
    wanted = _parser().parse_args(arguments)
    with contextlib.ExitStack() as stack:
        trace = stack.enter_context(wanted.trace.open("w", encoding="ascii")) if wanted.trace else None
        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(_serve(wanted, trace))
    return 0


if __name__ == "__main__":
    sys.exit(main())
