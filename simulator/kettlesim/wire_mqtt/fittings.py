"""How a simulated node is set up: its topics, payloads and timers."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Load(Enum):
    """What hangs on a relay."""

    HEATER = "heater"
    PUMP = "pump"
    CONTACTOR = "contactor"


class AfterPowerCut(Enum):
    """What a relay does when its node gets its supply back."""

    OFF = "off"
    RESTORE = "restore"
    ON = "on"


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A topic, and the names that lead to the value in its JSON; none: the payload is the value."""

    topic: str
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Relay:
    """`on` may hold {percent} and {ttl_s}; `auto_off_s` counts from each command that says on, None: never.

    `silent`: it does not say how it stands (`state` None says the same of the whole node).
    """

    load: Load
    command: str
    on: str
    off: str
    state: Where | None
    state_on: str
    state_off: str
    auto_off_s: float | None
    after_power_cut: AfterPowerCut = AfterPowerCut.OFF


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """`name` is what the kettle calls the place it hangs in."""

    name: str
    where: Where
    fahrenheit: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One node. It tells its probes every `tell_every_s`; `availability` is its topic, retained, with a last will."""

    name: str
    relays: tuple[Relay, ...] = ()
    probes: tuple[Probe, ...] = ()
    availability: str | None = None
    available: str = "online"
    unavailable: str = "offline"
    tell_every_s: float = 0.5
