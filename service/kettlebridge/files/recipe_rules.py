"""What must hold between the keys of a recipe. Each rule is a row of RULES and yields (key, what is wrong)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.keys import plain
from kettlebridge.files.peek import number_at, tables_at, text_at, value_at
from kettlebridge.model.recipe import MASHED, AdditionUse, FermentableKind, HopUse, Way

Findings = Iterator[tuple[KeyPath, str]]

MASHED_KINDS = frozenset(kind.value for kind in MASHED)
KNOWN_KINDS = frozenset(kind.value for kind in FermentableKind)
TIMED = {"boil": "boil", "stand": "stand"}
"""Uses whose `before_end_min` counts, and the table whose `for_min` bounds it."""
KNOWN_USES = frozenset(use.value for use in (*HopUse, *AdditionUse))


def recipe_findings(data: dict[str, Any]) -> Findings:
    """Every breach of every rule."""
    for rule in RULES:
        yield from rule(data)


def _mash_for_what_is_mashed(data: dict[str, Any]) -> Findings:
    kinds = {grist.get("kind") for grist in tables_at(data, "grist").values()}
    mashed = not kinds.isdisjoint(MASHED_KINDS)
    if mashed and value_at(data, "mash") is None:
        yield ("mash",), "missing: there is grain in the grist"
    elif not mashed and value_at(data, "mash") is not None and kinds and kinds <= KNOWN_KINDS:
        yield ("mash",), "is refused: nothing in the grist is mashed"


def _rests_rise(data: dict[str, Any]) -> Findings:
    for (_, before), (path, rest) in pairwise(tables_at(data, "mash", "rest").items()):
        before_c, at_c = number_at(before, "at_c"), number_at(rest, "at_c")
        if before_c is None or at_c is None:
            continue
        if at_c == before_c:
            yield (*path, "at_c"), f"{plain(at_c)} is the rest before it again: make that one longer"
        elif at_c < before_c:
            yield (*path, "at_c"), f"{plain(at_c)} is colder than the rest before it: a mash only gets warmer"


def _infusions_can_heat(data: dict[str, Any]) -> Findings:
    infusion_c = number_at(data, "mash", "infusion_c")
    for nth, (path, rest) in enumerate(tables_at(data, "mash", "rest").items()):
        if text_at(rest, "by") != Way.INFUSION.value:
            continue
        at_c = number_at(rest, "at_c")
        if nth == 0:
            yield (*path, "by"), "is refused: the strike water brings the mash to its first rest"
        elif infusion_c is not None and at_c is not None and infusion_c <= at_c:
            yield ("mash", "infusion_c"), f"{plain(infusion_c)} is not hotter than the rest at {plain(at_c)}"


def _what_is_mashed_has_no_minutes(data: dict[str, Any]) -> Findings:
    boil_min = number_at(data, "boil", "for_min")
    for path, grist in tables_at(data, "grist").items():
        before_end_min = number_at(grist, "before_end_min")
        if grist.get("kind") in MASHED_KINDS and "before_end_min" in grist:
            yield (*path, "before_end_min"), "is refused: it is mashed"
        elif before_end_min is not None and boil_min is not None and before_end_min > boil_min:
            yield (*path, "before_end_min"), f"{plain(before_end_min)} is too big: the boil lasts {plain(boil_min)} min"


def _minutes_where_they_count(data: dict[str, Any]) -> Findings:
    for array in ("hop", "addition"):
        for path, each in tables_at(data, array).items():
            use = text_at(each, "use")
            if use in TIMED:
                yield from _timed(data, path, each, TIMED[use])
            elif use in KNOWN_USES and "before_end_min" in each:
                yield (*path, "before_end_min"), f"is refused: {use} has no end to count from"


def _timed(data: dict[str, Any], path: KeyPath, each: dict[str, Any], table: str) -> Findings:
    if value_at(data, table) is None:
        if table == "stand":
            yield (*path, "use"), "there is no [stand]"
        return
    before_end_min, for_min = number_at(each, "before_end_min"), number_at(data, table, "for_min")
    if "before_end_min" not in each:
        yield (*path, "before_end_min"), "missing: minutes before the end of the " + table
    elif before_end_min is not None and for_min is not None and before_end_min > for_min:
        yield (*path, "before_end_min"), f"{plain(before_end_min)} is too big: the {table} lasts {plain(for_min)} min"


def _gravity_falls(data: dict[str, Any]) -> Findings:
    original, final = number_at(data, "target", "original_sg"), number_at(data, "target", "final_sg")
    if original is not None and final is not None and final >= original:
        yield ("target", "final_sg"), f"{plain(final)} is not below original_sg, {plain(original)}"


RULES: tuple[Callable[[dict[str, Any]], Findings], ...] = (
    _mash_for_what_is_mashed,
    _rests_rise,
    _infusions_can_heat,
    _what_is_mashed_has_no_minutes,
    _minutes_where_they_count,
    _gravity_falls,
)
