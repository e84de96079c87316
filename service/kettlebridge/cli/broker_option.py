"""`--broker HOST:PORT`: an MQTT broker as it is typed."""

from __future__ import annotations

from kettlebridge.model.errors import UsageError
from kettlebridge.model.mqtt import Broker

DEFAULT_PORT = 1883


def broker_at(text: str) -> Broker:
    """HOST:PORT or HOST. Raises UsageError."""
    host, _, port = text.rpartition(":") if ":" in text else (text, "", str(DEFAULT_PORT))
    if not host or not port.isascii() or not port.isdigit() or not 0 < int(port) < 65536:
        raise UsageError(f"--broker {text}: write it as HOST:PORT")
    return Broker(host=host, port=int(port))
