"""The firmware of a node without its I/O: messages and a clock reading in, messages out.

The law: a relay is on until `auto_off_s` after the last command that said on. The node knows nothing of who sends.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from kettlesim.wire_mqtt.fittings import AfterPowerCut, Load, Node, Relay, Where

SIMULATED = "kettlesim/simulated/"
"""Before each command topic: here a simulated node says that it is one."""

_SIMULATED_EVERY = 6
"""Of the times at which it tells its probes."""

_FULL_PERCENT = 100.0
_NUMBER = r"([0-9]+(?:\.[0-9]+)?)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A message of a node."""

    topic: str
    payload: str
    retained: bool = False


class _Switch:
    """One relay at work. `stuck_percent`: a welded or dead contact, whatever the firmware wants."""

    def __init__(self, relay: Relay) -> None:
        self.relay = relay
        self.percent = 0.0
        self.off_at_s: float | None = None
        self.stuck_percent: float | None = None
        text = re.escape(relay.on).replace(re.escape("{percent}"), _NUMBER, 1)
        self._on = re.compile(text.replace(re.escape("{ttl_s}"), "(?:[0-9.]+)"))

    def obey(self, payload: str, now_s: float) -> None:
        """A command. What it does not know changes nothing."""
        if payload == self.relay.off:
            self.drop()
            return
        said = self._on.fullmatch(payload)
        if said is not None:
            self.percent = min(_FULL_PERCENT, float(said[1])) if said.groups() else _FULL_PERCENT
            after_s = self.relay.auto_off_s
            self.off_at_s = None if after_s is None else now_s + after_s

    def drop(self) -> None:
        """Off."""
        self.percent, self.off_at_s = 0.0, None

    def state(self) -> str:
        """As the node tells it."""
        if "{percent}" in self.relay.on:
            return f"{self.percent:g}"
        return self.relay.state_on if self.percent else self.relay.state_off


class VirtualNode:
    """One node. `poll` gives what it says by then; `deaf` leaves it running with its radio broken."""

    def __init__(self, fittings: Node, read_c: Callable[[str], float], *, now_s: float = 0.0) -> None:
        self.fittings = fittings
        self.powered = True
        self.deaf = False
        self.probe_text: dict[str, str] = {}
        self.silent_probes: set[str] = set()
        self._read_c = read_c
        self._switches = {relay.load: _Switch(relay) for relay in fittings.relays}
        self._tell_at_s = now_s
        self._tellings = 0
        self._out: list[Said] = []

    def fraction(self, load: Load) -> float | None:
        """What the relay of that load lets through, 0-1; None where this node has none."""
        switch = self._switches.get(load)
        if switch is None:
            return None
        percent = switch.percent if switch.stuck_percent is None else switch.stuck_percent
        return percent / _FULL_PERCENT if self.powered or switch.stuck_percent is not None else 0.0

    def stick(self, load: Load, percent: float | None) -> None:
        """A fault: the contact stays as it is. None mends it."""
        self._switches[load].stuck_percent = percent

    def receive(self, topic: str, payload: bytes, now_s: float) -> None:
        """A message came."""
        self.advance(now_s)
        if not self.powered or self.deaf:
            return
        for switch in self._switches.values():
            if switch.relay.command == topic:
                switch.obey(payload.decode(errors="replace"), now_s)
                self._tell_state(switch)

    def greet(self) -> None:
        """It is connected to its broker now."""
        if self.powered and self.fittings.availability is not None:
            self._say(self.fittings.availability, self.fittings.available, retained=True)

    def press(self, load: Load, now_s: float) -> None:
        """Somebody presses the button on the plug: the relay changes sides."""
        self.advance(now_s)
        switch = self._switches[load]
        switch.obey(switch.relay.off if switch.percent else switch.relay.on.replace("{percent}", "100"), now_s)
        self._tell_state(switch)

    def poll(self, now_s: float) -> list[Said]:
        """Everything it says by `now_s`."""
        self.advance(now_s)
        out, self._out = self._out, []
        return [] if self.deaf else out

    def next_due_s(self) -> float:
        """When to poll next."""
        offs_s = [switch.off_at_s for switch in self._switches.values() if switch.off_at_s is not None]
        return min(self._tell_at_s, *offs_s) if offs_s else self._tell_at_s

    def advance(self, now_s: float) -> None:
        """Timers that ran out by `now_s`."""
        for switch in self._switches.values():
            if switch.off_at_s is not None and switch.off_at_s <= now_s:
                switch.drop()
                self._tell_state(switch)
        while self._tell_at_s <= now_s:
            self._tell_at_s += self.fittings.tell_every_s
            if self.powered and self._tell_at_s > now_s:
                self._tell_all()

    def cut_power(self, now_s: float) -> None:
        """Takes its supply away; the broker tells its last will."""
        self.advance(now_s)
        self.powered = False
        self._out = []
        if self.fittings.availability is not None:
            self._say(self.fittings.availability, self.fittings.unavailable, retained=True)

    def restore_power(self, now_s: float) -> None:
        """Gives it back; each relay does what its node was set up for."""
        self.advance(now_s)
        self.powered = True
        self._out = []
        self.greet()
        for switch in self._switches.values():
            was_percent = switch.percent
            switch.drop()
            policy = switch.relay.after_power_cut
            if policy is AfterPowerCut.ON or (policy is AfterPowerCut.RESTORE and was_percent):
                switch.percent = was_percent or _FULL_PERCENT
            self._tell_state(switch)

    def _tell_all(self) -> None:
        documents: dict[str, Any] = {}
        for probe in self.fittings.probes:
            if probe.name in self.silent_probes:
                continue
            read_c = self._read_c(probe.name)
            value = round(read_c * 1.8 + 32.0, 3) if probe.fahrenheit else round(read_c, 4)
            _put(documents, probe.where, self.probe_text.get(probe.name, value))
        for topic, document in documents.items():
            self._say(topic, document if isinstance(document, str) else json.dumps(document))
        if self._tellings % _SIMULATED_EVERY == 0:
            for switch in self._switches.values():
                self._say(SIMULATED + switch.relay.command, "1")
        self._tellings += 1

    def _tell_state(self, switch: _Switch) -> None:
        where = switch.relay.state
        if where is None:
            return
        documents: dict[str, Any] = {}
        text = switch.state()
        _put(documents, where, json.loads(text) if where.names and text in {"true", "false"} else text)
        document = documents[where.topic]
        self._say(where.topic, document if isinstance(document, str) else json.dumps(document))

    def _say(self, topic: str, payload: str, *, retained: bool = False) -> None:
        self._out.append(Said(topic=topic, payload=payload, retained=retained))


def _put(documents: dict[str, Any], where: Where, value: float | str | bool) -> None:
    """Puts a value in its place in the payload of its topic."""
    if not where.names:
        documents[where.topic] = str(value)
        return
    inside = documents.setdefault(where.topic, {})
    for name in where.names[:-1]:
        inside = inside.setdefault(name, {})
    inside[where.names[-1]] = value
