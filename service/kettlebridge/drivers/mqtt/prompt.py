"""A client that acknowledges at once what comes in.

A broker without `set_tcp_nodelay` holds each message back until the one before it is acknowledged (RFC 896), which the
kernel otherwise does up to 40 ms later (RFC 1122, 4.2.3.2). Linux alone can be told not to wait.
"""

from __future__ import annotations

import socket
from typing import Any

import aiomqtt
from paho.mqtt.enums import MQTTErrorCode

QUICK_ACK: int | None = getattr(socket, "TCP_QUICKACK", None)


class PromptClient(aiomqtt.Client):
    """As the library's, with a reader that is prompt."""

    def __init__(self, *args: Any, **settings: Any) -> None:
        super().__init__(*args, **settings)
        self._read = self._client.loop_read
        self._client.loop_read = self._read_promptly  # type: ignore[method-assign]  # the only place that sees all that comes

    def _read_promptly(self, max_packets: int = 1) -> MQTTErrorCode:
        result = self._read(max_packets)
        sock = self._client.socket()
        if isinstance(sock, socket.socket) and QUICK_ACK is not None:
            sock.setsockopt(socket.IPPROTO_TCP, QUICK_ACK, 1)  # the kernel forgets it by and by
        return result
