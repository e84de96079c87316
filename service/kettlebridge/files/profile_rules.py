"""What must hold between the keys of a profile, apart from the order of its steps.

Each rule is a row of RULES and yields (key, what is wrong). It sees raw data and says nothing of what it cannot read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.keys import plain
from kettlebridge.files.peek import number_at, tables_at, text_at, value_at
from kettlebridge.files.profile_order import order_findings
from kettlebridge.model.plan import ASK_ROWS, MASH_MAX_C, AskKind

Findings = Iterator[tuple[KeyPath, str]]

LITRES_TOLERANCE = 1e-6
POURED = frozenset({AskKind.FILL, AskKind.INFUSE, AskKind.SPARGE})
PARTS_OF_A_STEP = ("sanitise_last_min", "pump_after_min")


def profile_findings(data: dict[str, Any]) -> Findings:
    """Every breach of every rule."""
    for rule in RULES:
        yield from rule(data)


def asks(data: dict[str, Any], what: AskKind) -> list[KeyPath]:
    """Where `what` is asked for, in order."""
    return [path for path, step in tables_at(data, "step").items() if _ask_kind(step) is what]


def _keep_only_where_hands_stay_out(data: dict[str, Any]) -> Findings:
    for path, step in tables_at(data, "step").items():
        kind = _ask_kind(step)
        if kind is None or "keep_c" not in step:
            continue
        row = ASK_ROWS[kind]
        keep_c = number_at(step, "keep_c")
        if row.hands_in:
            yield (*path, "keep_c"), "is refused: hands are in the kettle, so heater, pump and main contactor stay off"
        elif row.keep_max_c is None:
            yield (*path, "keep_c"), "is refused: nothing is kept warm here"
        elif keep_c is not None and keep_c > row.keep_max_c:
            yield (*path, "keep_c"), f"{plain(keep_c)} is too big: 30 to {row.keep_max_c:g} °C"


def _ask_kind(step: dict[str, Any]) -> AskKind | None:
    what = step.get("what") if step.get("do") == "ask" else None
    return next((kind for kind in AskKind if kind.value == what), None)


def _inside_the_step(data: dict[str, Any]) -> Findings:
    for path, step in tables_at(data, "step").items():
        for_min = number_at(step, "for_min")
        if for_min is None:
            continue
        times = [(*path, key) for key in PARTS_OF_A_STEP]
        times += [(*path, *addition, "before_end_min") for addition in tables_at(step, "addition")]
        for key in times:
            part_min = number_at(data, *key)
            if part_min is not None and part_min > for_min:
                yield key, f"{plain(part_min)} is too big: the step lasts {plain(for_min)} min"


def _pump_not_on_hot_wort(data: dict[str, Any]) -> Findings:
    for path, step in tables_at(data, "step").items():
        to_c = number_at(step, "to_c")
        if step.get("do") == "heat" and step.get("pump") is True and to_c is not None and to_c > MASH_MAX_C:
            yield (
                (*path, "pump"),
                f"must be false: above {MASH_MAX_C:g} °C a heat step does not pump",
            )


def _ready_for_the_first_water(data: dict[str, Any]) -> Findings:
    if value_at(data, "ready_at") is None:
        return
    heats = [path for path, step in tables_at(data, "step").items() if step.get("do") == "heat"]
    dough_ins = asks(data, AskKind.DOUGH_IN)
    if not heats or (dough_ins and dough_ins[0] < heats[0]):
        yield ("ready_at",), "needs a heat step before any grain"
    elif value_at(data, *heats[0], "pump") is True:
        yield (*heats[0], "pump"), "must be false: with ready_at this step may heat with nobody there"


def _grain_for_the_mash(data: dict[str, Any]) -> Findings:
    dough_ins, grain_kg = asks(data, AskKind.DOUGH_IN), number_at(data, "water", "grain_kg") or 0.0
    if dough_ins and grain_kg == 0.0:
        yield ("water", "grain_kg"), "must be more than 0: there is an ask for dough_in"
    elif grain_kg > 0.0 and not dough_ins and tables_at(data, "step"):
        yield ("water", "grain_kg"), f"{plain(grain_kg)} kg go nowhere: there is no ask for dough_in"


def _litres_of_the_fills(data: dict[str, Any]) -> Findings:
    fill_l = number_at(data, "water", "fill_l")
    for nth, path in enumerate(asks(data, AskKind.FILL)):
        litres = number_at(data, *path, "litres")
        if nth == 0 and litres is not None and fill_l is not None and abs(litres - fill_l) > LITRES_TOLERANCE:
            yield (*path, "litres"), f"{plain(litres)} is not fill_l of [water], {plain(fill_l)} L; it may be left out"
        if nth > 0 and value_at(data, *path, "litres") is None:
            yield (*path, "litres"), "missing: only the first fill takes it from [water]"


def _litres_of_the_sparge(data: dict[str, Any]) -> Findings:
    sparge_l, sparges = number_at(data, "water", "sparge_l") or 0.0, asks(data, AskKind.SPARGE)
    if sparge_l == 0.0 and sparges:
        yield ("water", "sparge_l"), "must be more than 0: there is an ask for sparge"
    elif sparge_l > 0.0 and not sparges and tables_at(data, "step"):
        yield ("water", "sparge_l"), f"{plain(sparge_l)} L go nowhere: there is no ask for sparge"
    portions = [number_at(data, *path, "litres") for path in sparges]
    if len(sparges) > 1:
        for path in (path for path in sparges if value_at(data, *path, "litres") is None):
            yield (*path, "litres"), "missing: of several portions each says its own"
    known = [portion for portion in portions if portion is not None]
    if sparge_l and known and len(known) == len(portions) and abs(sum(known) - sparge_l) > LITRES_TOLERANCE:
        yield (
            (*sparges[-1], "litres"),
            f"the portions are {plain(sum(known))} L together, sparge_l of [water] is {plain(sparge_l)}",
        )


def _litres_only_for_water(data: dict[str, Any]) -> Findings:
    for path, step in tables_at(data, "step").items():
        kind = _ask_kind(step)
        if kind is not None and kind not in POURED and "litres" in step:
            yield (*path, "litres"), "is refused: only fill, infuse and sparge take litres"


def _infusions_say_how_much(data: dict[str, Any]) -> Findings:
    for path, step in tables_at(data, "step").items():
        kind = _ask_kind(step)
        if kind is AskKind.INFUSE:
            for key in ("litres", "water_c"):
                if value_at(data, *path, key) is None:
                    yield (*path, key), "missing: an infusion says how much and how hot"
        elif "water_c" in step and step.get("do") == "ask":
            yield (*path, "water_c"), "is refused: only infuse takes it"


def _other_says_what(data: dict[str, Any]) -> Findings:
    for path in asks(data, AskKind.OTHER):
        if not (text_at(data, *path, "text") or "").strip():
            yield (*path, "text"), 'missing: what = "other" says here what hands are to do'


RULES: tuple[Callable[[dict[str, Any]], Findings], ...] = (
    _keep_only_where_hands_stay_out,
    _inside_the_step,
    _pump_not_on_hot_wort,
    _ready_for_the_first_water,
    _grain_for_the_mash,
    _litres_of_the_fills,
    _litres_of_the_sparge,
    _litres_only_for_water,
    _infusions_say_how_much,
    _other_says_what,
    order_findings,
)
