"""One tick as text: `Inputs` as a JSON array, an event's values as a JSON object. Lossless both ways.

A day has some 23,400 of these, so fields go by position. The positions of format 1:

    inputs    1, health, readings, heater_limit_fraction
              [, commands, resumed's away_s or null, journal_failing [, clock_synchronised]]
    health    linked, age_s [, board or null [, boards]]
    boards    of each: name, linked [, trouble, detail]
    board     acted_on, heater_permille, heater_on_ms, pump_on, main_contactor_closed, lease_left_s
              [, inputs, dropped_frames]
    reading   probe, value_c or null, age_s [, fault]
    command   id, kind, who, at_kettle, seen_n, call, alarm, minutes, target_c, litres, on
              [, at_c, gravity_sg, brix [, step_index]]

What stands in [ ] is left out, all of it, while it says nothing. `now_s` and `at_utc_s` are columns of their own.
Floats are written by repr, the shortest text that reads back as the same number; enums by value; the booleans of a
board and of health as 0 or 1. NaN and infinities, which JSON has no word for, are written as Python does: they should
never come this far, and if one does, that row is the one that somebody will want to read.
"""

from __future__ import annotations

import json
from typing import Any

from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.errors import JournalError, LinkReason
from kettlebridge.model.event import Event, EventCode, Scalar
from kettlebridge.model.ids import CommandId, ProbeName
from kettlebridge.model.inputs import Inputs, Resumed
from kettlebridge.model.reading import BoardHealth, BoardInput, BoardStanding, BoardState, Reading, ReadingFault

FORMAT = 1
"""The first position of every row: a later layout gets the next number, and old rows stay readable."""

_to_text = json.JSONEncoder(separators=(",", ":"), check_circular=False).encode
_to_pairs = json.JSONDecoder(object_pairs_hook=tuple).decode


def encode_inputs(inputs: Inputs) -> str:
    """`inputs` without its two times."""
    row: list[Any] = [
        FORMAT,
        _health_row(inputs.health),
        [_reading_row(reading) for reading in inputs.readings],
        inputs.heater_limit_fraction,
    ]
    told = bool(inputs.commands) or inputs.clock_synchronised
    if told or inputs.resumed is not None or inputs.journal_failing:
        away_s = None if inputs.resumed is None else inputs.resumed.away_s
        row += ([_command_row(command) for command in inputs.commands], away_s, inputs.journal_failing)
        if inputs.clock_synchronised:
            row.append(True)
    return _to_text(row)


def decode_inputs(now_s: float, at_utc_s: float, text: str) -> Inputs:
    """What `encode_inputs` was given. Raises JournalError."""
    commands: list[Any] = []
    away_s: float | None = None
    failing = synchronised = False
    try:
        match json.loads(text):
            case [1, health, list(readings), int() | float() as limit]:
                pass
            case [
                1,
                health,
                list(readings),
                int() | float() as limit,
                list(commands),
                None | int() | float() as away_s,
                bool(failing),
                *rest,
            ] if rest in ([], [True]):
                synchronised = bool(rest)
            case _:
                raise JournalError(f"not a tick of format {FORMAT}: {text[:60]}")
        return Inputs(
            now_s=now_s,
            at_utc_s=at_utc_s,
            readings=tuple(_reading(row) for row in readings),
            health=_health(health),
            commands=tuple(_command(row) for row in commands),
            heater_limit_fraction=limit,
            resumed=None if away_s is None else Resumed(away_s=away_s),
            journal_failing=failing,
            clock_synchronised=synchronised,
        )
    except ValueError as error:  # not JSON, or no such enum value
        raise JournalError(f"a tick cannot be read: {error}") from error


def encode_values(event: Event) -> str:
    """An event's values; the order is kept, and a name that comes twice is written twice."""
    return "{" + ",".join(f"{_to_text(name)}:{_to_text(value)}" for name, value in event.values) + "}"


def decode_event(code: str, text: str) -> Event:
    """The event that was written as `code` and `text`. Raises JournalError."""
    try:
        pairs = _to_pairs(text)
        if not text.startswith("{"):
            raise JournalError(f"not the values of an event: {text[:60]}")
        return Event(code=EventCode(code), values=tuple((name, _scalar(value)) for name, value in pairs))
    except ValueError as error:
        raise JournalError(f"an event cannot be read: {error}") from error


def _health_row(health: BoardHealth) -> list[Any]:
    row: list[Any] = [int(health.linked), health.age_s]
    board = health.board
    if board is not None:
        board_row: list[Any] = [
            board.acted_on,
            board.heater_permille,
            board.heater_on_ms,
            int(board.pump_on),
            int(board.main_contactor_closed),
            board.lease_left_s,
        ]
        if board.inputs or board.dropped_frames:
            board_row += (board.inputs.value, board.dropped_frames)
        row.append(board_row)
    if health.boards:
        row += [*([] if board is not None else [None]), [_standing_row(standing) for standing in health.boards]]
    return row


def _standing_row(standing: BoardStanding) -> list[Any]:
    why = [] if standing.trouble is None else [standing.trouble.value, standing.detail]
    return [standing.name, int(standing.linked), *why]


def _standing(row: object) -> BoardStanding:
    match row:
        case [str(name), 0 | 1 as linked]:
            return BoardStanding(name=name, linked=bool(linked))
        case [str(name), 0 | 1 as linked, str(trouble), str(detail)]:
            return BoardStanding(name=name, linked=bool(linked), trouble=LinkReason(trouble), detail=detail)
        case _:
            raise JournalError(f"not a board's standing: {row}")


def _health(row: object) -> BoardHealth:
    match row:
        case [0 | 1 as linked, int() | float() as age_s]:
            return BoardHealth(linked=bool(linked), age_s=age_s)
        case [0 | 1 as linked, int() | float() as age_s, list(board)]:
            return BoardHealth(linked=bool(linked), age_s=age_s, board=_board(board))
        case [0 | 1 as linked, int() | float() as age_s, (None | list()) as board, list(boards)]:
            return BoardHealth(
                linked=bool(linked),
                age_s=age_s,
                board=None if board is None else _board(board),
                boards=tuple(_standing(one) for one in boards),
            )
        case _:
            raise JournalError(f"not a board's health: {row}")


def _board(row: list[Any]) -> BoardState:
    match row:
        case [int(acted_on), int(permille), int(on_ms), 0 | 1 as pump, 0 | 1 as contactor, int() | float() as left_s]:
            inputs, dropped = 0, 0
        case [
            int(acted_on),
            int(permille),
            int(on_ms),
            0 | 1 as pump,
            0 | 1 as contactor,
            int() | float() as left_s,
            int(inputs),
            int(dropped),
        ]:
            pass
        case _:
            raise JournalError(f"not a board's state: {row}")
    return BoardState(
        acted_on=acted_on,
        heater_permille=permille,
        heater_on_ms=on_ms,
        pump_on=bool(pump),
        main_contactor_closed=bool(contactor),
        lease_left_s=left_s,
        inputs=BoardInput(inputs),
        dropped_frames=dropped,
    )


def _reading_row(reading: Reading) -> tuple[Any, ...]:
    if reading.fault is None:
        return (reading.probe, reading.value_c, reading.age_s)
    return (reading.probe, reading.value_c, reading.age_s, reading.fault.value)


def _reading(row: object) -> Reading:
    match row:
        case [str(probe), None | int() | float() as value_c, int() | float() as age_s]:
            return Reading(probe=ProbeName(probe), value_c=value_c, age_s=age_s)
        case [str(probe), None | int() | float() as value_c, int() | float() as age_s, str(fault)]:
            return Reading(probe=ProbeName(probe), value_c=value_c, fault=ReadingFault(fault), age_s=age_s)
        case _:
            raise JournalError(f"not a reading: {row}")


def _command_row(command: Command) -> tuple[Any, ...]:
    row = (
        command.id,
        command.kind.value,
        command.who,
        command.at_kettle,
        command.seen_n,
        command.call,
        command.alarm,
        command.minutes,
        command.target_c,
        command.litres,
        command.on,
    )
    measured = (command.at_c, command.gravity_sg, command.brix)
    if command.step_index is not None:
        return (*row, *measured, command.step_index)
    return row if measured == (None, None, None) else (*row, *measured)


def _command(row: object) -> Command:
    at_c: float | None = None
    gravity_sg: float | None = None
    brix: float | None = None
    step_index: int | None = None
    match row:
        case [
            str(name),
            str(kind),
            str(who),
            bool(at_kettle),
            None | int() as seen_n,
            None | str() as call,
            None | str() as alarm,
            None | int() | float() as minutes,
            None | int() | float() as target_c,
            None | int() | float() as litres,
            None | bool() as on,
            *measured,
        ]:
            match measured:
                case []:
                    pass
                case [
                    None | int() | float() as at_c,
                    None | int() | float() as gravity_sg,
                    None | int() | float() as brix,
                    *which,
                ]:
                    match which:
                        case []:
                            pass
                        case [int() as step_index]:
                            pass
                        case _:
                            raise JournalError(f"not a command: {row}")
                case _:
                    raise JournalError(f"not a command: {row}")
            return Command(
                id=CommandId(name),
                kind=CommandKind(kind),
                who=who,
                at_kettle=at_kettle,
                seen_n=seen_n,
                call=call,
                alarm=alarm,
                minutes=minutes,
                target_c=target_c,
                litres=litres,
                on=on,
                at_c=at_c,
                gravity_sg=gravity_sg,
                brix=brix,
                step_index=step_index,
            )
        case _:
            raise JournalError(f"not a command: {row}")


def _scalar(value: object) -> Scalar:
    if value is None or isinstance(value, float | int | str | bool):
        return value
    raise JournalError(f"not a plain value: {value}")
