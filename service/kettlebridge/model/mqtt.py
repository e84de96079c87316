"""Words of MQTT (OASIS standard, versions 3.1.1 and 5.0) that several rooms share."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum


class MqttVersion(Enum):
    """Versions of the protocol, as a file has them."""

    V311 = "3.1.1"
    V5 = "5"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tls:
    """Paths of PEM files. `ca_file` None: the authorities of the system; the other two go together."""

    ca_file: str | None = None
    cert_file: str | None = None
    key_file: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Broker:
    """Where a broker is and how to get in."""

    host: str
    port: int
    version: MqttVersion = MqttVersion.V311
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: Tls | None = None

    def __str__(self) -> str:
        return f"{self.host}:{self.port}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """A message on its way in or out.

    `retained`: incoming, it was said some time before; outgoing, the broker keeps it for whoever asks later.
    `expiry_s`: the broker drops it when it could not be passed on for so long; version 5 only, ignored otherwise.
    """

    topic: str
    payload: bytes
    retained: bool = False
    expiry_s: int | None = None


POINTER_MARK = "#"
"""Between topic and JSON pointer; as a wildcard it has no place in the topic of one thing."""


class Unit(Enum):
    """What a probe's number means."""

    CELSIUS = "C"
    FAHRENHEIT = "F"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a value is: the payload of `topic` itself, or what `pointer` (RFC 6901) names in its JSON."""

    topic: str
    pointer: str | None = None

    @classmethod
    def of(cls, text: str) -> Place:
        """From `TOPIC` or `TOPIC#/POINTER`."""
        topic, mark, pointer = text.partition(POINTER_MARK)
        return cls(topic=topic, pointer=pointer if mark else None)

    def __str__(self) -> str:
        return self.topic if self.pointer is None else f"{self.topic}{POINTER_MARK}{self.pointer}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeWire:
    """A probe. Silent for longer than `max_age_s`, it counts as giving no answer.

    `gravity`: where one in a fermenter tells the specific gravity too.
    """

    place: Place
    unit: Unit = Unit.CELSIUS
    max_age_s: float = 3.0
    gravity: Place | None = None


class AfterPowerCut(Enum):
    """What a node is set up to do with a relay when its own supply comes back, as a file has it."""

    OFF = "off"
    RESTORE = "restore"
    ON = "on"


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayWire:
    """A relay on a node.

    `on` and `off` are payloads for the topic `command`; in `on`, `{percent}` stands for 0-100 and `{ttl_s}` for
    `auto_off_s`, after which the node switches off by itself (None: it does not). `state` is where the node says how
    the relay stands: a percentage where `on` has one, else `state_on` or `state_off`, and no other word tells
    anything. None: nobody says.
    `availability` is where the node says whether it is there, in the word `available`. `after_power_cut`: None where
    the file does not say.
    """

    command: str
    on: str
    off: str
    state: Place | None = None
    state_on: str = ""
    state_off: str = ""
    availability: str | None = None
    available: str = ""
    auto_off_s: float | None = None
    after_power_cut: AfterPowerCut | None = None

    @property
    def takes_percent(self) -> bool:
        """Whether it may be anything between off and on."""
        return "{percent}" in self.on
