"""The order of the day: what each step needs in the kettle, and what it leaves there.

The law is the table MOVES: a step met in a state that its row does not list is a mistake. Steps after a mistake are
judged as if it had been mended, so that one slip is told once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.peek import number_at, tables_at, value_at
from kettlebridge.model.plan import MASH_MAX_C, AskKind, StepKind


class Vessel(Enum):
    """What is in the kettle, in the words of a message."""

    EMPTY = "the kettle is empty"
    WATER = "there is water, no grain"
    MASH = "the grain is in"
    LIFTED = "the basket is lifted"
    DRAINED = "the basket is lifted and drained"
    WORT = "the basket is away"
    PITCHED = "the wort is pitched"


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """`leaves[state]` follows on `state`; `needs` says in words what it takes, `mended` is the state it lacked."""

    leaves: dict[Vessel, Vessel]
    needs: str
    mended: Vessel


def _stays(*states: Vessel) -> dict[Vessel, Vessel]:
    return {state: state for state in states}


_E, _W, _M, _L, _D, _O, _P = Vessel

_FILLED = "a fill before it, and nothing poured away or pitched since"
_CLIMB = "a fill before it and, after a dough_in, lift and basket_away"

MOVES: dict[StepKind | AskKind, Move] = {
    StepKind.HEAT: Move(leaves=_stays(_W, _M, _O), needs=_FILLED, mended=_W),
    StepKind.REST: Move(leaves=_stays(_M), needs="the grain in: dough_in before it, and no lift yet", mended=_M),
    StepKind.BOIL: Move(leaves=_stays(_W, _O), needs=_CLIMB, mended=_O),
    StepKind.HOP_STAND: Move(leaves=_stays(_W, _O), needs=_CLIMB, mended=_O),
    StepKind.CHILL: Move(leaves=_stays(_W, _O), needs=_CLIMB, mended=_O),
    StepKind.CIRCULATE: Move(leaves=_stays(_W), needs="water without grain or wort: a fill before it", mended=_W),
    AskKind.FILL: Move(leaves={_E: _W, _P: _W}, needs="an empty kettle", mended=_E),
    AskKind.DOUGH_IN: Move(leaves={_W: _M}, needs="water in the kettle, and no grain before", mended=_W),
    AskKind.STIR: Move(leaves=_stays(_M), needs="the grain in", mended=_M),
    AskKind.INFUSE: Move(leaves=_stays(_M), needs="the grain in", mended=_M),
    AskKind.LIFT: Move(leaves={_M: _L}, needs="the grain in", mended=_M),
    AskKind.SPARGE: Move(leaves=_stays(_L), needs="the basket lifted, not yet drained", mended=_L),
    AskKind.DRAIN: Move(leaves={_L: _D}, needs="the basket lifted", mended=_L),
    AskKind.BASKET_AWAY: Move(leaves={_L: _O, _D: _O}, needs="the basket lifted", mended=_D),
    AskKind.PITCH: Move(leaves={_W: _P, _O: _P}, needs="wort in the kettle, the basket away", mended=_O),
    AskKind.EMPTY: Move(leaves=dict.fromkeys((_W, _O, _P), _E), needs="a full kettle without grain", mended=_P),
    AskKind.OTHER: Move(leaves=_stays(*Vessel), needs="", mended=_E),
}


def order_findings(data: dict[str, Any]) -> Iterator[tuple[KeyPath, str]]:
    """Every step out of order. Nothing is said of a profile of which some step is not understood."""
    steps = tables_at(data, "step")
    doings = {path: doing for path, step in steps.items() if (doing := _doing(step))}
    written = value_at(data, "step")
    if not isinstance(written, list) or len(doings) < len(written):
        return
    state = Vessel.EMPTY
    doughed_in = False
    for nth, (path, doing) in enumerate(doings.items()):
        move = MOVES[doing]
        key = (*path, "what" if isinstance(doing, AskKind) else "do")
        if doing is AskKind.DOUGH_IN and doughed_in:
            yield key, "a second dough_in: at most one in a day"
        elif state not in move.leaves:
            yield key, f"{doing.value} comes at a wrong time: {state.value}; it needs {move.needs}"
        doughed_in = doughed_in or doing is AskKind.DOUGH_IN
        yield from _not_too_hot_for_grain(path, steps[path], state)
        state = _state_after(state, move, list(doings.values())[nth + 1 :])


def _state_after(state: Vessel, move: Move, following: Sequence[StepKind | AskKind]) -> Vessel:
    """What the next steps find. After a mistake: as if this step were not there, or else what came before it were."""
    if state in move.leaves:
        return move.leaves[state]
    next_doing = next((doing for doing in following if doing is not AskKind.OTHER), None)
    if next_doing is None or state in MOVES[next_doing].leaves:
        return state
    return move.leaves[move.mended]


def _doing(step: dict[str, Any]) -> StepKind | AskKind | None:
    kinds: type[StepKind | AskKind] = AskKind if step.get("do") == StepKind.ASK.value else StepKind
    word = step.get("what" if kinds is AskKind else "do")
    return next((kind for kind in kinds if kind.value == word), None)


def _not_too_hot_for_grain(path: KeyPath, step: dict[str, Any], state: Vessel) -> Iterator[tuple[KeyPath, str]]:
    to_c = number_at(step, "to_c")
    if state is Vessel.MASH and to_c is not None and to_c > MASH_MAX_C:
        yield (*path, "to_c"), f"{to_c:g} is too big while the grain is in: 20 to {MASH_MAX_C:g} °C"
