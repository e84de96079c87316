"""What must hold between the keys of a kettle file. Each rule is a row of RULES and yields (key, what is wrong)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

from kettlebridge.brewing.day import ROOM_C
from kettlebridge.files.altitude import boil_c
from kettlebridge.files.bridge_views import bridge_findings, each_view
from kettlebridge.files.kettle_tables import HEATER_W, LIMIT_OVER_BOIL_C
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.keys import plain
from kettlebridge.files.modbus_rules import modbus_findings, source_mistake
from kettlebridge.files.mqtt_rules import mqtt_findings, place_mistake
from kettlebridge.files.peek import number_at, tables_at, text_at, value_at
from kettlebridge.files.rom_id import rom_id_mistake

Findings = Iterator[tuple[KeyPath, str]]

BOIL_OFF_WH_PER_L = 626.0
"""Heat to boil away a litre measured at 20 °C: 0.9982 kg of 2256.5 kJ/kg (IAPWS-95, at 101.325 kPa)."""

MAX_PROBES = {"serial_line": 8}
"""As many as one report of the board can carry."""

SOURCE_MISTAKES: dict[str, Callable[[str], str | None]] = {
    "serial_line": rom_id_mistake,
    "modbus": source_mistake,
    "mqtt": place_mistake,
}
"""By kind of bridge: what is wrong with a probe's source, or None."""

CALIBRATION_SPAN_C = 10.0
CALIBRATION_SHIFT_C = 5.0


def kettle_findings(data: dict[str, Any]) -> Findings:
    """Every breach of every rule."""
    for rule in RULES:
        yield from rule(data)
    for rule in RULES_OF_A_BRIDGE:
        yield from each_view(data, rule)


def expected_boil_c(data: dict[str, Any]) -> float | None:
    """`boil_c` as written, or from the altitude; None where neither stands."""
    measured_c = number_at(data, "kettle", "boil_c")
    if measured_c is not None:
        return measured_c
    altitude_m = number_at(data, "kettle", "altitude_m")
    return boil_c(altitude_m) if altitude_m is not None and -430 <= altitude_m <= 5_000 else None


def _one_boiling_point(data: dict[str, Any]) -> Findings:
    if value_at(data, "kettle") is None:
        return
    given = [key for key in ("altitude_m", "boil_c") if value_at(data, "kettle", key) is not None]
    if not given:
        yield ("kettle", "altitude_m"), "missing: exactly one of altitude_m and boil_c"
    elif len(given) == 2:
        yield ("kettle", "boil_c"), "one too many: exactly one of altitude_m and boil_c"


def _parts_smaller_than_the_kettle(data: dict[str, Any]) -> Findings:
    capacity_l = number_at(data, "kettle", "capacity_l")
    for key in ("element_cover_l", "under_basket_l", "dead_space_l"):
        part_l = number_at(data, "kettle", key)
        if part_l is not None and capacity_l is not None and part_l >= capacity_l:
            yield ("kettle", key), f"{plain(part_l)} is too big: less than capacity_l, {plain(capacity_l)} L"


def _marks(data: dict[str, Any]) -> Findings:
    given = {key: value_at(data, "kettle", key) for key in ("mark_l", "mark_cm")}
    written = {key: values for key, values in given.items() if isinstance(values, list)}
    if len(written) == 1:
        yield ("kettle", next(iter(written))), "mark_l and mark_cm go together"
        return
    if len({len(values) for values in written.values()}) > 1:
        yield ("kettle", "mark_cm"), "must have as many numbers as mark_l"
    for key, values in written.items():
        numbers = [number_at(data, "kettle", key, index) for index in range(len(values))]
        known = [value for value in numbers if value is not None]
        if any(after <= before for before, after in pairwise(known)):
            yield ("kettle", key), "must rise from each number to the next"


def _heater_can_boil_off(data: dict[str, Any]) -> Findings:
    boil_off_l_per_h = number_at(data, "kettle", "boil_off_l_per_h")
    heater_w = number_at(data, "kettle", "heater_w")
    if boil_off_l_per_h is None or heater_w is None or not HEATER_W[0] <= heater_w <= HEATER_W[1]:
        return  # of a power that is a mistake itself nothing follows
    most_l_per_h = heater_w / BOIL_OFF_WH_PER_L
    if boil_off_l_per_h > most_l_per_h > 0:
        yield (
            ("kettle", "boil_off_l_per_h"),
            f"{plain(boil_off_l_per_h)} is too big: {plain(heater_w)} W boil off at most {most_l_per_h:.1f} L/h",
        )


def _losses_leave_heat(data: dict[str, Any]) -> Findings:
    """What counts as lost is not missed: losses that no heater could make up for hide one that does not heat."""
    loss_w_per_k, heater_w = number_at(data, "kettle", "loss_w_per_k"), number_at(data, "kettle", "heater_w")
    boils_c = expected_boil_c(data)
    if loss_w_per_k is None or heater_w is None or boils_c is None:
        return
    lost_w = loss_w_per_k * (boils_c - ROOM_C)
    if lost_w >= heater_w > 0:
        yield (
            ("kettle", "loss_w_per_k"),
            f"{plain(loss_w_per_k)} is too big: at the boil {lost_w:.0f} W would be lost, all that heater_w gives",
        )


def _each_role_once(data: dict[str, Any]) -> Findings:
    for family in ("probe", "input"):
        holders: dict[str, list[KeyPath]] = defaultdict(list)
        for path in tables_at(data, family):
            role = text_at(data, *path, "role")
            if role is not None:
                holders[role].append(path)
        for role, paths in holders.items():
            for path in paths[1:]:
                yield (*path, "role"), f'"{role}" is taken by [{family}.{paths[0][1]}]: each role once'
        if family == "probe" and "control" not in holders and value_at(data, "probe") is not None:
            yield ("probe",), 'no probe has the role "control": exactly one'


def _sources(data: dict[str, Any]) -> Findings:
    kind = text_at(data, "bridge", "kind") or ""
    mistake_in = SOURCE_MISTAKES.get(kind)
    holders: dict[str, KeyPath] = {}
    for path in tables_at(data, "probe"):
        source = text_at(data, *path, "source")
        if source is None:
            continue
        what = mistake_in(source) if mistake_in else None
        if what:
            yield (*path, "source"), what
        first = holders.setdefault(source.upper(), path)
        if first != path:
            yield (*path, "source"), f"is also the source of [probe.{first[1]}]: each probe once"
    if len(tables_at(data, "probe")) > MAX_PROBES.get(kind, len(tables_at(data, "probe"))):
        yield ("probe",), f"too many probes: at most {MAX_PROBES[kind]} on one board"


def _calibration(data: dict[str, Any]) -> Findings:
    for path, probe in tables_at(data, "probe").items():
        given = [key for key in ("read_c", "true_c") if key in probe]
        if len(given) == 1:
            yield (*path, given[0]), "read_c and true_c go together"
        if not given:
            continue
        if "offset_c" in probe:
            yield (*path, "offset_c"), "either offset_c, or read_c with true_c"
        points = [[number_at(probe, key, index) for index in (0, 1)] for key in ("read_c", "true_c")]
        (read_low_c, read_high_c), (true_low_c, true_high_c) = points
        if read_low_c is None or read_high_c is None or true_low_c is None or true_high_c is None:
            continue
        if min(read_high_c - read_low_c, true_high_c - true_low_c) < CALIBRATION_SPAN_C:
            yield (*path, "read_c"), f"the second point must be at least {CALIBRATION_SPAN_C:g} °C above the first"
        if max(abs(true_low_c - read_low_c), abs(true_high_c - read_high_c)) > CALIBRATION_SHIFT_C:
            yield (*path, "true_c"), f"more than {CALIBRATION_SHIFT_C:g} °C from read_c: the probe is to be replaced"


def _limit_near_the_boil(data: dict[str, Any]) -> Findings:
    limit_c, boils_c = number_at(data, "safety", "limit_c"), expected_boil_c(data)
    if limit_c is None or boils_c is None:
        return
    low_c, high_c = (boils_c + over_c for over_c in LIMIT_OVER_BOIL_C)
    if not low_c <= limit_c <= high_c:
        word = "small" if limit_c < low_c else "big"
        yield (
            ("safety", "limit_c"),
            f"{plain(limit_c)} is too {word}: {low_c:.1f} to {high_c:.1f} °C where water boils at {boils_c:.1f} °C",
        )


def _circuit_carries_the_heater(data: dict[str, Any]) -> Findings:
    heater_w, max_w = number_at(data, "kettle", "heater_w"), number_at(data, "supply", "max_w")
    if heater_w is not None and max_w is not None and heater_w > max_w:
        yield ("supply", "max_w"), f"{plain(max_w)} is too small: heater_w is {plain(heater_w)} W"


RULES: tuple[Callable[[dict[str, Any]], Findings], ...] = (
    _one_boiling_point,
    _parts_smaller_than_the_kettle,
    _marks,
    _heater_can_boil_off,
    _losses_leave_heat,
    _each_role_once,
    bridge_findings,
    _calibration,
    _limit_near_the_boil,
    _circuit_carries_the_heater,
)

RULES_OF_A_BRIDGE: tuple[Callable[[dict[str, Any]], Findings], ...] = (_sources, modbus_findings, mqtt_findings)
"""Those that look at one bridge and what hangs on it."""
