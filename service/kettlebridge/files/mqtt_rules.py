"""What must hold in a kettle file whose probes and relays are on MQTT. Each rule yields (key, what is wrong).

A heater needs a node that switches off by itself: without that no software could keep it from heating for ever.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.peek import number_at, tables_at, text_at, value_at
from kettlebridge.model.mqtt import POINTER_MARK

Findings = Iterator[tuple[KeyPath, str]]

MQTT = "mqtt"
LOAD_FACTOR = 1.25
"""What a continuous load must be multiplied with (NEC 210.20(A))."""

HEATING = ("heater", "main_contactor")
NEEDED: dict[str, str] = {
    "state": "a relay that heats must say how it stands",
    "auto_off_s": "a relay without auto-off on the node may drive a pump, never a heater",
    "rated_a": "a relay that heats must be known to carry the load",
    "after_power_cut": "a relay that heats must be known to stay off after a power cut",
}


def mqtt_findings(data: dict[str, Any]) -> Findings:
    """Every breach of every rule."""
    if text_at(data, "bridge", "kind") == MQTT:
        for rule in RULES:
            yield from rule(data)
        return
    for family in ("probe", "relay"):
        for path, one in tables_at(data, family).items():
            if MQTT in one:
                yield (*path, MQTT), 'only with [bridge] kind = "mqtt"'


def place_mistake(place: str) -> str | None:
    """What is wrong with TOPIC or TOPIC#/POINTER, or None."""
    topic, mark, pointer = place.partition(POINTER_MARK)
    if mark and not pointer.startswith("/"):
        return "after # stands a JSON pointer, which begins with /"
    return topic_mistake(topic)


def topic_mistake(topic: str) -> str | None:
    """What is wrong with a topic to speak or listen on, or None."""
    if not topic or topic != topic.strip():
        return "is no topic"
    if "+" in topic or POINTER_MARK in topic:
        return "must name one topic: + and # stand for many"
    return "topics that begin with $ are the broker's own" if topic.startswith("$") else None


def _relays(data: dict[str, Any]) -> Iterator[tuple[str, KeyPath, dict[str, Any]]]:
    for path, relay in tables_at(data, "relay").items():
        inner = relay.get(MQTT)
        if isinstance(inner, dict):
            yield str(path[-1]), (*path, MQTT), inner


def _relays_are_reached(data: dict[str, Any]) -> Findings:
    for path, relay in tables_at(data, "relay").items():
        if MQTT not in relay:
            yield (*path, MQTT), "missing: how the relay is reached over MQTT"


def _topics_are_topics(data: dict[str, Any]) -> Findings:
    for _, path, relay in _relays(data):
        for key, wrong in (("command", topic_mistake), ("availability", topic_mistake), ("state", place_mistake)):
            what = wrong(relay[key]) if isinstance(relay.get(key), str) else None
            if what:
                yield (*path, key), what


def _gravities_are_told_from_fermenters(data: dict[str, Any]) -> Findings:
    for path, probe in tables_at(data, "probe").items():
        place = value_at(data, *path, MQTT, "gravity_sg")
        if not isinstance(place, str):
            continue
        if probe.get("role") != "fermenter":
            yield (*path, MQTT, "gravity_sg"), 'only with role = "fermenter"'
        what = place_mistake(place)
        if what:
            yield (*path, MQTT, "gravity_sg"), what


def _orders_have_their_own_topics(data: dict[str, Any]) -> Findings:
    told = [probe.get("source") for probe in tables_at(data, "probe").values()]
    told += [relay.get(key) for _, _, relay in _relays(data) for key in ("state", "availability")]
    told_on = {place.partition(POINTER_MARK)[0] for place in told if isinstance(place, str)}
    commands: dict[str, KeyPath] = {}
    for _, path, relay in _relays(data):
        topic = relay.get("command")
        if not isinstance(topic, str):
            continue
        if topic in told_on:
            yield (*path, "command"), "is also a topic that a node tells something on: orders need one of their own"
        first = commands.setdefault(topic, path)
        if first != path:
            yield (*path, "command"), f"is also the command of [{'.'.join(map(str, first))}]"


def _heating_relays_are_safe(data: dict[str, Any]) -> Findings:
    heater_w, mains_v = number_at(data, "kettle", "heater_w"), number_at(data, "kettle", "mains_v")
    for name, path, relay in _relays(data):
        if name not in HEATING:
            continue
        for key, why in NEEDED.items():
            if key not in relay:
                yield (*path, key), f"missing: {why}"
        if relay.get("after_power_cut") in {"restore", "on"}:
            yield (*path, "after_power_cut"), "set the node up to stay off, then write off here"
        rated_a = number_at(data, *path, "rated_a")
        if rated_a is not None and heater_w is not None and mains_v:
            load_a = heater_w / mains_v
            if rated_a < LOAD_FACTOR * load_a:
                yield (
                    (*path, "rated_a"),
                    f"{rated_a:g} A is too small: {LOAD_FACTOR:g} × {load_a:.1f} A = {LOAD_FACTOR * load_a:.1f} A",
                )


def _payloads(data: dict[str, Any]) -> Findings:
    drive = text_at(data, "relay", "heater", "drive")
    for name, path, relay in _relays(data):
        on, off = relay.get("on", "ON"), relay.get("off", "OFF")
        if on == off:
            yield (*path, "off"), "is the same as on"
        if not isinstance(on, str):
            continue
        if "{percent}" in on and (name != "heater" or drive != "ssr"):
            yield (*path, "on"), 'holds {percent}: that is for [relay.heater] with drive = "ssr"'
        if "{percent}" not in on and name == "heater" and drive == "ssr":
            yield (*path, "on"), 'lacks {percent}: a node that is only on or off has drive = "contactor"'
        if "{ttl_s}" in on and "auto_off_s" not in relay:
            yield (*path, "auto_off_s"), "missing: it is what {ttl_s} in on becomes"


def _states_are_told_apart(data: dict[str, Any]) -> Findings:
    for _, path, relay in _relays(data):
        if "state_on" in relay and "state_off" not in relay:
            yield (*path, "state_off"), "missing: a word that is neither is not taken for off, so both must be said"
        elif "state_on" in relay and relay["state_on"] == relay["state_off"]:
            yield (*path, "state_off"), "is the same as state_on"


def _no_inputs(data: dict[str, Any]) -> Findings:
    for path in tables_at(data, "input"):
        yield path, "an input needs a board that drops the heater by itself: not over MQTT"


def broker_findings(data: dict[str, Any], *at: str) -> Findings:
    """Keys of a broker that go together."""
    if value_at(data, *at, "tls") is not True:
        for key in ("ca_file", "cert_file", "key_file"):
            if value_at(data, *at, key) is not None:
                yield (*at, key), "only with tls = true"
    for key, other in (("password_file", "username"), ("cert_file", "key_file"), ("key_file", "cert_file")):
        if value_at(data, *at, key) is not None and value_at(data, *at, other) is None:
            yield (*at, key), f"goes together with {other}"


RULES = (
    _relays_are_reached,
    _topics_are_topics,
    _gravities_are_told_from_fermenters,
    _orders_have_their_own_topics,
    _heating_relays_are_safe,
    _payloads,
    _states_are_told_apart,
    _no_inputs,
    lambda data: broker_findings(data, "bridge"),
)
