"""Payloads into values and orders into payloads, without any I/O."""

from __future__ import annotations

import json
import math

from kettlebridge.model.mqtt import Place, RelayWire, Unit

LONGEST_PAYLOAD = 16 * 1024
"""Far more than any node tells about itself; JSON beyond it is not looked into."""

SHOWN = 40
ABSENT = object()
"""What a pointer to nothing gives; JSON's null is a value."""


def value_at(payload: bytes, place: Place) -> object:
    """What stands at `place`: text where there is no pointer, else a JSON value; ABSENT where there is nothing."""
    try:
        text = payload.decode()
        if place.pointer is None:
            return text.strip()
        return _pointed(json.loads(text), place.pointer) if len(payload) <= LONGEST_PAYLOAD else ABSENT
    except (ValueError, RecursionError):
        return ABSENT


def _pointed(document: object, pointer: str) -> object:
    """RFC 6901: `/` parts the names, `~1` stands for `/` and `~0` for `~`; in an array a name is an index."""
    here = document
    for part in pointer.split("/")[1:]:
        name = part.replace("~1", "/").replace("~0", "~")
        if isinstance(here, dict):
            here = here.get(name, ABSENT)
        elif isinstance(here, list) and name.isascii() and name.isdigit() and int(name) < len(here):
            here = here[int(name)]
        else:
            return ABSENT
    return here


def number(value: object) -> float | None:
    """A number, or text that is one; None for anything else, NaN and infinities included."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return None
    try:
        found = float(value)
    except (ValueError, OverflowError):
        return None
    return found if math.isfinite(found) else None


def celsius(payload: bytes, place: Place, unit: Unit) -> float | None:
    """The temperature at `place`, or None where no number stands there."""
    found = number(value_at(payload, place))
    if found is None or unit is Unit.CELSIUS:
        return found
    return (found - 32.0) / 1.8


def state_permille(payload: bytes, relay: RelayWire) -> int | None:
    """How the relay stands by its node's own word, 0-1000; None where its place has nothing that tells."""
    if relay.state is None:
        return None
    value = value_at(payload, relay.state)
    if value is ABSENT:
        return None
    if relay.takes_percent:
        percent = number(value)
        return None if percent is None else min(1000, max(0, round(10 * percent)))
    return {relay.state_off: 0, relay.state_on: 1000}.get(word(value))


def word(value: object) -> str:
    """A value as a kettle file writes it: text as it is, everything else as JSON has it."""
    return value if isinstance(value, str) else json.dumps(value)


def order(relay: RelayWire, permille: int) -> bytes:
    """The payload that asks for `permille`. Raises ValueError for one that the relay cannot do: a bug."""
    if not 0 <= permille <= 1000 or (permille not in {0, 1000} and not relay.takes_percent):
        raise ValueError(f"{permille} per mille of a relay that takes {relay.on!r}")
    if permille == 0:
        return relay.off.encode()
    said = relay.on.replace("{percent}", f"{permille / 10:g}")
    return said.replace("{ttl_s}", f"{relay.auto_off_s or 0:g}").encode()


def shown(payload: bytes) -> str:
    """A payload for a message to a person."""
    text = payload[:SHOWN].decode(errors="replace")
    safe = "".join(letter if letter.isprintable() else "?" for letter in text)
    return f'"{safe}"' if len(payload) <= SHOWN else f'"{safe}..."'
