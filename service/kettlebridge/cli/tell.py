"""`tell`: a command for a running kettle, or how it stands, over the control socket."""

from __future__ import annotations

import argparse
import asyncio
import getpass
import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter

from kettlebridge.app import CORE, SOCKET_NAME, records_in
from kettlebridge.brewing.gravity import plato
from kettlebridge.brewing.rescue_measured import measured_day
from kettlebridge.cli.arm_progress import told_until_armed
from kettlebridge.cli.exits import DONE, FAILED
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.documents.amounts import degrees
from kettlebridge.documents.arming import by_itself
from kettlebridge.documents.calls import asked
from kettlebridge.documents.refusals import refused
from kettlebridge.documents.rescue_words import rescue_lines
from kettlebridge.documents.sentences import alarm, leading, outputs, place, standing
from kettlebridge.documents.troubles import PROBE_WORDS
from kettlebridge.files.local_time import system_time
from kettlebridge.model.command import LOWERING, CommandKind
from kettlebridge.model.errors import JournalError
from kettlebridge.model.ids import KettleId
from kettlebridge.model.plan import Plan
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.ports import LocalTime
from kettlebridge.runtime.control_client import ask
from kettlebridge.runtime.traces import folded

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

SWITCH = {"on": True, "off": False}


def _switch(text: str) -> bool:
    if text not in SWITCH:
        raise argparse.ArgumentTypeError(f"{text} is neither on nor off")
    return SWITCH[text]


def _counted(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text} is no step: they are counted from 1")
    return int(text)


READ_AS: dict[str, Callable[[str], object]] = {"minutes": float, "target_c": float, "litres": float, "on": _switch}
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
                "--litres", type=float, metavar="L", help="how much it was, where that is not what was asked"
            )
        if word.grain:
            one.add_argument("--grain-c", type=float, metavar="C", help="how cold the grain is, when the water is hot")
        if word.measures:
            _add_measures(one)
        if word.steps:
            one.add_argument("--step", type=_counted, metavar="N", help="a step to come, as the day counts them from 1")
        one.add_argument("--code", metavar="CODE", help="the code posted at the kettle, for who stands there")
        add_state(one)


def _add_measures(parser: argparse.ArgumentParser) -> None:
    """One reading, and its temperature."""
    reading = parser.add_mutually_exclusive_group(required=True)
    reading.add_argument("--litres", type=float, metavar="L", help="as the kettle's scale shows them")
    reading.add_argument("--gravity", type=float, metavar="SG", help="as the hydrometer shows it")
    reading.add_argument(
        "--brix", type=float, metavar="BX", help="as the refractometer shows it; unfermented wort only"
    )
    parser.add_argument(
        "--at-c",
        type=float,
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
        return _status(folder, kettle, as_json=args.json)
    kind = CommandKind(args.what)
    answer = asyncio.run(ask(folder / SOCKET_NAME, _request(args, kind)))
    if answer["refused"] is not None:
        words = refused(str(answer["refused"]))
        print(f"Not taken: {words.why} {words.do}")
        return FAILED
    unsure = not answer["recorded"] and kind not in LOWERING
    print("Taken, but it could not be recorded." if unsure else "Taken.", flush=True)
    if kind is CommandKind.MEASURED and not unsure:
        for line in _what_comes_of_it(folder, kettle):
            print(line)
    if kind is CommandKind.ARM:
        return DONE if asyncio.run(told_until_armed(folder / SOCKET_NAME, kettle)) else FAILED
    return DONE


def _what_comes_of_it(folder: Path, kettle: KettleId) -> Iterator[str]:
    """What was measured, and what may be done about it; nothing where it says nothing of the beer, or has no record."""
    try:
        records = records_in(folder)
        batch = records.unfinished(kettle)
        if batch is None:
            return
        header = records.header(batch)
        found = measured_day(header.plan, folded(CORE, header, records))
    except JournalError:
        return
    except ValueError as error:
        yield f"Careful: {error}."
        return
    if found is None:
        return
    yield from rescue_lines(found)
    for mend in found.mends:
        if "step" in dict(mend.values):
            minutes = mend.get("minutes") * (1 if mend.code == "boil_longer" else -1)
            yield f"To do that: kettlebridge tell {kettle} extend {minutes:.0f} --step {mend.get('step'):.0f}"


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
    brix = plato(args.gravity) if args.refractometer and args.gravity is not None else args.brix
    gravity_sg = None if args.refractometer else args.gravity
    return {"litres": args.litres, "at_c": args.at_c, "gravity_sg": gravity_sg, "brix": brix}


def _status(folder: Path, kettle: KettleId, *, as_json: bool) -> int:
    answer = asyncio.run(ask(folder / SOCKET_NAME, {"watch": kettle}))
    if as_json:
        print(json.dumps(answer["snapshot"], indent=2))
        return DONE
    snapshot = TypeAdapter(Snapshot).validate_python(answer["snapshot"])
    for line in status_lines(snapshot, _plan(folder, snapshot), system_time()):
        print(line)
    return DONE


def _plan(folder: Path, snapshot: Snapshot) -> Plan | None:
    """The plan that the record opened with; without it the words are only fewer."""
    try:
        return records_in(folder).header(snapshot.batch).plan
    except JournalError:
        return None


def status_lines(snapshot: Snapshot, plan: Plan | None, time: LocalTime) -> Iterator[str]:
    """How a kettle stands, the sentence first."""
    yield leading(snapshot, plan)
    if armed := by_itself(snapshot, time):
        yield armed
    yield from standing(snapshot)
    yield f"{outputs(snapshot)}{'' if snapshot.step is None else f', {place(snapshot.step)}'}"
    for call in snapshot.calls:
        words = asked(call, plan)
        where = "at the kettle" if words.at_kettle else "for you"
        yield " ".join(part for part in (f"{where} [{call.id}]: {words.do}", words.text, words.caution) if part)
    for record in snapshot.alarms:
        yield f"alarm [{record.cause}]: {alarm(record)}"
    for probe in snapshot.probes:
        fault = "" if probe.fault is None else f", {PROBE_WORDS[probe.fault]}"
        yield f"probe {probe.probe}: {degrees(probe.value_c)}{fault}"
