"""`tell`: a command for a running kettle, or how it stands, over the control socket.

Whatever is needed only once there is an answer is loaded then: on a small board the rest of the program takes seconds
to load, and a command that stops the heat should not wait for it.
"""

from __future__ import annotations

import argparse
import asyncio
import getpass
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.cli.numbers import finite, number
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.model.command import LOWERING, CommandKind
from kettlebridge.model.ids import KettleId
from kettlebridge.runtime.control_client import SOCKET_NAME, ask

STATUS = "status"


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """One of the things that may be told. `field` is the request's own, read from the word's argument `shown`."""

    help: str
    field: str | None = None
    shown: str = ""
    optional: bool = False
    litres: bool = False
    grain: bool = False
    measures: bool = False
    steps: bool = False


WORDS: dict[CommandKind, Word] = {
    CommandKind.START: Word(help="begin the day, or begin again after a reset"),
    CommandKind.CONFIRM: Word(
        help="what was asked is done: the oldest call, or the one named",
        field="call",
        shown="CALL",
        optional=True,
        litres=True,
        grain=True,
    ),
    CommandKind.HOLD: Word(help="pause: heater and pump off"),
    CommandKind.CARRY_ON: Word(help="carry on after a pause (at the kettle)"),
    CommandKind.STOP_HEAT: Word(help="stop all heat: everything off until it is reset"),
    CommandKind.STOP: Word(help="end this batch for good"),
    CommandKind.RESET: Word(help="clear the way after stop-heat (at the kettle)"),
    CommandKind.ARM: Word(help="let it heat with nobody there, for its time to be ready at: tests first"),
    CommandKind.DISARM: Word(help="take that back: it stays cold"),
    CommandKind.SKIP: Word(help="leave the rest of this step out"),
    CommandKind.EXTEND: Word(
        help="more minutes for this step or one to come; less than none for fewer",
        field="minutes",
        shown="MIN",
        steps=True,
    ),
    CommandKind.RETARGET: Word(help="another temperature for this step", field="target_c", shown="C"),
    CommandKind.COUNT_REST: Word(help="count a rest that is too cold all the same"),
    CommandKind.ADDING_WATER: Word(help="say that water goes in", field="litres", shown="LITRES"),
    CommandKind.MEASURED: Word(help="what was measured: litres on the scale, or a gravity", measures=True),
    CommandKind.DRAW_OFF: Word(
        help="a cup through the pump: on runs it for 2 s, again and again for 30 s at most (at the kettle)",
        field="on",
        shown="on|off",
    ),
    CommandKind.ACKNOWLEDGE: Word(
        help="alarm seen: all of them, or the one named", field="alarm", shown="ALARM", optional=True
    ),
}
"""A command without a row here fails the tests."""

READS_SG = (0.98, 1.18)
"""What a hydrometer shows, as the core takes it: a slip of the comma is told as one, not as a missing temperature."""

SWITCH = {"on": True, "off": False}


def _switch(text: str) -> bool:
    if text not in SWITCH:
        raise argparse.ArgumentTypeError(f"{text} is neither on nor off")
    return SWITCH[text]


def _counted(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text} is no step: they are counted from 1")
    return int(text)


READ_AS: dict[str, Callable[[str], object]] = {"minutes": finite, "target_c": finite, "litres": finite, "on": _switch}
"""How an argument is read; anything else is text."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `tell` may be told."""
    parser.add_argument("kettle", metavar="KETTLE", help="the kettle's name")
    whats = parser.add_subparsers(dest="what", required=True, metavar="WHAT")
    status = whats.add_parser(STATUS, help="how the kettle stands")
    status.add_argument("--json", action="store_true", help="the whole snapshot as one JSON document")
    add_state(status)
    for kind, word in WORDS.items():
        one = whats.add_parser(kind.value, help=word.help)
        if word.field is not None:
            one.add_argument(
                word.field,
                nargs="?" if word.optional else None,
                type=READ_AS.get(word.field, str),
                metavar=word.shown,
            )
        if word.litres:
            one.add_argument(
                "--litres", type=finite, metavar="L", help="how much it was, where that is not what was asked"
            )
        if word.grain:
            one.add_argument("--grain-c", type=finite, metavar="C", help="how cold the grain is, when the water is hot")
        if word.measures:
            _add_measures(one)
        if word.steps:
            one.add_argument("--step", type=_counted, metavar="N", help="a step to come, as the day counts them from 1")
        one.add_argument("--code", metavar="CODE", help="the code posted at the kettle, for who stands there")
        add_state(one)


def _add_measures(parser: argparse.ArgumentParser) -> None:
    """One reading, and its temperature."""
    reading = parser.add_mutually_exclusive_group(required=True)
    reading.add_argument("--litres", type=finite, metavar="L", help="as the kettle's scale shows them")
    reading.add_argument("--gravity", type=number(*READS_SG), metavar="SG", help="as the hydrometer shows it")
    reading.add_argument(
        "--brix", type=finite, metavar="BX", help="as the refractometer shows it; unfermented wort only"
    )
    parser.add_argument(
        "--at-c",
        type=finite,
        metavar="C",
        help="of what was read; for litres the kettle's own where it is left out, none for a refractometer that "
        "compensates",
    )
    parser.add_argument("--refractometer", action="store_true", help="--gravity is from a refractometer's scale")


def run(args: argparse.Namespace) -> int:
    """Says it and what became of it. Raises OperatorError when no service listens, or it cannot be understood."""
    folder = state_folder(args.state, os.environ)
    kettle = KettleId(args.kettle)
    if args.what == STATUS:
        answer = asyncio.run(ask(folder / SOCKET_NAME, {"watch": kettle}))
        _show_status(folder, answer, as_json=args.json)
        return DONE
    kind = CommandKind(args.what)
    answer = asyncio.run(ask(folder / SOCKET_NAME, _request(args, kind)))
    if answer["refused"] is not None:
        _show_refusal(str(answer["refused"]))
        return FAILED
    unsure = not answer["recorded"] and kind not in LOWERING
    print("Taken, but it could not be recorded." if unsure else "Taken.", flush=True)
    if kind is CommandKind.MEASURED and not unsure:
        _show_what_comes_of_it(folder, kettle)
    if kind is CommandKind.ARM:
        return DONE if _armed(folder, kettle) else FAILED
    return DONE


def _show_status(folder: Path, answer: dict[str, object], *, as_json: bool) -> None:
    from kettlebridge.cli.told_status import show_status  # noqa: PLC0415 - only once there is an answer

    show_status(folder, answer["snapshot"], as_json=as_json)


def _show_refusal(reason: str) -> None:
    from kettlebridge.documents.refusals import refused  # noqa: PLC0415 - only once there is an answer

    words = refused(reason)
    print(f"Not taken: {words.why} {words.do}")


def _show_what_comes_of_it(folder: Path, kettle: KettleId) -> None:
    from kettlebridge.cli.told_measured import what_comes_of_it  # noqa: PLC0415 - only once there is an answer

    for line in what_comes_of_it(folder, kettle):
        print(line)


def _armed(folder: Path, kettle: KettleId) -> bool:
    from kettlebridge.cli.arm_progress import told_until_armed  # noqa: PLC0415 - only once there is an answer

    return asyncio.run(told_until_armed(folder, kettle))


def _request(args: argparse.Namespace, kind: CommandKind) -> dict[str, object]:
    word = WORDS[kind]
    told: dict[str, object] = {"code": args.code, "litres": args.litres if word.litres else None}
    if word.grain:
        told["at_c"] = args.grain_c
    if word.steps and args.step is not None:
        told["step_index"] = args.step - 1
    if word.measures:
        told |= _measures(args)
    if word.field is not None:
        told[word.field] = getattr(args, word.field)
    given = {name: value for name, value in told.items() if value is not None}
    return {"kettle": args.kettle, "do": kind.value, "who": getpass.getuser(), **given}


def _measures(args: argparse.Namespace) -> dict[str, object]:
    """A refractometer's own scale of gravity is its Brix in other figures: that is undone."""
    read: dict[str, object] = {"litres": args.litres, "at_c": args.at_c, "gravity_sg": args.gravity, "brix": args.brix}
    if args.refractometer and args.gravity is not None:
        from kettlebridge.brewing.gravity import plato  # noqa: PLC0415 - only where it is to be worked out

        read |= {"gravity_sg": None, "brix": plato(args.gravity)}
    return read
