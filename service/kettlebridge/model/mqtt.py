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
