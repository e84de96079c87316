"""The board frames that tell something: B, P and T, as pairs of key and value."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from kettlesim.wire_serial.encoding import UINT32_RANGE
from kettlesim.wire_serial.fittings import Fittings, Input

VERSION = "1.0"

Pairs = Iterable[tuple[str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What a T says; `session` 0 and `lease_left_ms` 0: none. `temps` are pairs as the bus gives them."""

    up_ms: int
    session: int
    temps: Pairs
    heater_permille: int
    heater_on_ms: int
    pump: bool
    contactor: bool
    inputs: Input
    lease_left_ms: int
    dropped: int


def introduction(fittings: Fittings, *, boot: int, cause: str) -> Pairs:
    """B: who the board is."""
    return (
        ("v", VERSION),
        ("id", fittings.id),
        ("boot", f"{boot:08X}"),
        ("rc", cause),
        ("max", str(fittings.longest_ttl_ms)),
        ("cap", f"{fittings.cap:02X}"),
    )


def probe_list(roms: tuple[str, ...]) -> Pairs:
    """P: which index is which ROM id."""
    return ((f"t{index}", rom) for index, rom in enumerate(roms))


def report(told: Report) -> Pairs:
    """T: how everything stands."""
    return (
        ("up", str(told.up_ms)),
        ("s", f"{told.session:08X}" if told.session else "0"),
        *told.temps,
        ("h", str(told.heater_permille)),
        ("on", str(told.heater_on_ms % UINT32_RANGE)),
        ("p", str(int(told.pump))),
        ("k", str(int(told.contactor))),
        ("d", f"{told.inputs:02X}"),
        ("l", str(told.lease_left_ms)),
        ("n", str(told.dropped % UINT32_RANGE)),
    )
