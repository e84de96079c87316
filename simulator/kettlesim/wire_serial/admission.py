"""Which demands a board accepts: one row for every reason to refuse, in the order in which they are looked at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from kettlesim.wire_serial.burst import FULL_PERMILLE
from kettlesim.wire_serial.encoding import UINT32_RANGE
from kettlesim.wire_serial.fittings import Drive

SHORTEST_TTL_MS = 200
CONTACTOR_SETTLING_MS = 200
_LOUDEST_BUZZER = 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """An O frame: names as on the wire. `e` is an uptime in ms, `ttl` in ms, `h` per mille, `p` and `k` 0 or 1."""

    s: int
    e: int
    ttl: int
    h: int
    p: int
    k: int
    z: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What the board knows when a demand comes in.

    `session` is 0 without one; `newest_e` is None before the session's first demand; `input_latched` holds until a
    demand without heat that follows from a report that told it, of which the first went out `latch_told_ago_ms` ago
    (None: not yet); `input_active` while such an input is on; `contactor_on_for_ms` is 0 while it is off;
    `heat_without_contactor`: the last accepted demand tested for a weld.
    """

    session: int
    lapsed: bool
    up_ms: int
    newest_e: int | None
    longest_ttl_ms: int
    drive: Drive
    input_latched: bool
    latch_told_ago_ms: int | None
    input_active: bool
    contactor_on_for_ms: int
    heat_without_contactor: bool


def age_ms(demand: Demand, up_ms: int) -> int:
    """How old the board time is that the host acted on, modulo 2**32: one from the future is nearly 2**32 old."""
    return (up_ms - demand.e) % UINT32_RANGE


def _out_of_range(demand: Demand, standing: Standing) -> bool:
    heater_ok = demand.h <= FULL_PERMILLE if standing.drive is Drive.SSR else demand.h in (0, FULL_PERMILLE)
    ttl_ok = SHORTEST_TTL_MS <= demand.ttl <= standing.longest_ttl_ms
    return not (heater_ok and ttl_ok and demand.p <= 1 and demand.k <= 1 and demand.z <= _LOUDEST_BUZZER)


def _stale(demand: Demand, standing: Standing) -> bool:
    if age_ms(demand, standing.up_ms) >= demand.ttl:
        return True
    return standing.newest_e is not None and (demand.e - standing.newest_e) % UINT32_RANGE >= UINT32_RANGE // 2


def keeps_latch(demand: Demand, standing: Standing) -> bool:
    """Whether a latched input stays so: until whoever demands has heard of it and wants no heat."""
    told_ago_ms = standing.latch_told_ago_ms
    has_heard = told_ago_ms is not None and age_ms(demand, standing.up_ms) <= told_ago_ms
    return standing.input_latched and not (demand.h == 0 and has_heard)


def _against_input(demand: Demand, standing: Standing) -> bool:
    return (standing.input_active or keeps_latch(demand, standing)) and (demand.h > 0 or demand.k == 1)


def _out_of_order(demand: Demand, standing: Standing) -> bool:
    if demand.k == 0:
        return False
    if demand.h > 0:
        return standing.contactor_on_for_ms < CONTACTOR_SETTLING_MS
    return standing.heat_without_contactor


REFUSALS: tuple[tuple[str, Callable[[Demand, Standing], bool]], ...] = (
    ("lapsed", lambda _, standing: standing.lapsed),
    ("session", lambda demand, standing: standing.session == 0 or demand.s != standing.session),
    ("range", _out_of_range),
    ("stale", _stale),
    ("input", _against_input),
    ("order", _out_of_order),
)


def refusal(demand: Demand, standing: Standing) -> str | None:
    """Why the demand is refused; None: it is accepted."""
    return next((why for why, holds in REFUSALS if holds(demand, standing)), None)
