"""`find`: what is connected, and a kettle file to start from. It asks and listens; nothing is switched."""

from __future__ import annotations

import argparse
import asyncio
from pathlib import Path

from kettlebridge.cli.broker_option import broker_at
from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.cli.found_file import Found, file_text
from kettlebridge.cli.written import Written, add_replace
from kettlebridge.drivers.modbus.finding import FoundModule, modules_at
from kettlebridge.drivers.mqtt.finding import temperatures_at
from kettlebridge.drivers.serial_line.finding import FoundPort, board_at, serial_ports
from kettlebridge.model.errors import LinkError, UsageError
from kettlebridge.model.modbus_map import ModbusMap, Parity
from kettlebridge.ports import Clock
from kettlebridge.runtime.clock import RealClock

BAUDS = (9600, 19200)
"""What modules are sold with; others are asked for with --baud."""

DEFAULT_UNITS = "1-8"
MOST_UNITS = 247
DEFAULT_LISTEN_S = 10.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `find` may be told."""
    parser.add_argument(
        "--port",
        action="append",
        metavar="DEVICE",
        help="ask at this serial port; repeat for more (default: every port there is)",
    )
    parser.add_argument(
        "--modbus", action="store_true", help="where no board of the line protocol answers, look for Modbus modules"
    )
    parser.add_argument(
        "--units", default=DEFAULT_UNITS, metavar="FROM-TO", help=f"Modbus units to ask (default {DEFAULT_UNITS})"
    )
    parser.add_argument(
        "--baud",
        type=int,
        action="append",
        metavar="N",
        help="Modbus speed to try; repeat for more (default 9600, 19200)",
    )
    parser.add_argument(
        "--parity", choices=[parity.value for parity in Parity], default="none", help="Modbus parity (default none)"
    )
    parser.add_argument("--broker", metavar="HOST:PORT", help="listen at this MQTT broker for temperatures")
    parser.add_argument(
        "--listen-s",
        type=float,
        default=DEFAULT_LISTEN_S,
        metavar="S",
        help=f"for how long (default {DEFAULT_LISTEN_S:g})",
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="write the kettle file there instead of printing it")
    add_replace(parser)


def run(args: argparse.Namespace) -> int:
    """Looks, tells, and prints a file. Raises UsageError."""
    units = _units(args.units)
    written = Written([args.out], replace=args.replace)
    found = asyncio.run(_look(args, units, RealClock()))
    if not found:
        print("Nothing was found that a kettle could hang on.")
        return FAILED
    text = file_text(found)
    if args.out is None:
        print()
        print(text, end="")
    else:
        written.write(args.out, text)
        print(f"Fill in what the comments ask for, then: kettlebridge check {args.out}")
    return DONE


async def _look(args: argparse.Namespace, units: range, clock: Clock) -> Found:
    found = Found()
    ports = serial_ports() if args.port is None else tuple(FoundPort(path=path, words="") for path in args.port)
    if not ports:
        print("No serial port on this machine.")
    for port in ports:
        await _ask(port, found, args, units, clock)
    if args.broker is not None:
        await _listen(args, found, clock)
    return found


async def _ask(port: FoundPort, found: Found, args: argparse.Namespace, units: range, clock: Clock) -> None:
    name = f"{port.path} ({port.words})" if port.words else port.path
    try:
        board = await board_at(port.path, clock)
        if board is not None:
            what = "another version of the line protocol" if board.board_id is None else f"board {board.board_id}"
            print(f"{name}: {what}, {len(board.roms)} probes")
            if board.board_id is not None:
                found.boards.append((port.path, board))
            return
        if not args.modbus:
            print(f"{name}: no board of the line protocol; --modbus looks for Modbus modules")
            return
        await _scan(port.path, name, found, args, units)
    except LinkError as error:
        print(f"{name}: {error.detail}")


async def _scan(path: str, name: str, found: Found, args: argparse.Namespace, units: range) -> None:
    for baud in args.baud or BAUDS:
        line = ModbusMap(baud=baud, parity=Parity(args.parity))
        modules = await modules_at(path, line, units, RealClock())
        for module in modules:
            print(f"{name}: at {baud} baud, parity {args.parity}: {_told(module)}")
        if modules:
            found.modules.append((path, line, modules))
            return
    print(f"{name}: no Modbus module among units {units.start} to {units.stop - 1}")


def _told(module: FoundModule) -> str:
    temperatures = ", ".join(f"{value_c:.1f} °C" for _, value_c in module.temperatures) or "no temperature"
    return f"unit {module.unit}, {temperatures}, coils: {module.coils}, discrete inputs: {module.discrete_inputs}"


async def _listen(args: argparse.Namespace, found: Found, clock: Clock) -> None:
    broker = broker_at(args.broker)
    print(f"Listening at {broker} for {args.listen_s:g} s ...", flush=True)
    try:
        topics = await temperatures_at(broker, args.listen_s, clock)
    except LinkError as error:
        print(error.detail)  # it names the broker
        return
    for topic in topics:
        old = ", said some time before" if topic.retained else ""
        print(f"{broker}: {topic.place}: {topic.value:g}{old}")
    if not topics:
        print(f"{broker}: nothing that is called a temperature")
    fresh = tuple(topic for topic in topics if not topic.retained)
    if fresh:
        found.topics.append((broker, fresh))


def _units(text: str) -> range:
    """FROM-TO, both included. Raises UsageError."""
    low, _, high = text.partition("-")
    if not (low.isascii() and low.isdigit() and (high or low).isascii() and (high or low).isdigit()):
        raise UsageError(f"--units {text}: write it as FROM-TO")
    units = range(int(low), int(high or low) + 1)
    if not units:
        raise UsageError(f"--units {text}: from the lower one to the higher")
    if units.start < 1 or units.stop - 1 > MOST_UNITS:
        raise UsageError(f"--units {text}: from 1 to {MOST_UNITS}")
    return units
