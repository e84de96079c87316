"""Which names the page answers to: a page elsewhere whose name was bent to this machine is none of them."""

from __future__ import annotations

from collections.abc import Iterable
from ipaddress import ip_address
from urllib.parse import urlsplit

LOOPBACK_NAMES = frozenset({"localhost", "127.0.0.1", "[::1]"})


class Hosts:
    """`names` without port, lower case. Addresses in figures cannot be bent; they count where `any_address`."""

    def __init__(self, port: int, names: Iterable[str] = (), *, any_address: bool = False) -> None:
        self._port = port
        self._names = LOOPBACK_NAMES | {name.lower() for name in names}
        self._any_address = any_address

    def knows(self, host: str) -> bool:
        """Whether a Host header names this service."""
        try:
            parts = urlsplit(f"//{host}")
            name, port = parts.hostname, parts.port
        except ValueError:
            return False
        if name is None or parts.path or parts.query or parts.fragment or parts.username is not None:
            return False
        if (self._default_port() if port is None else port) != self._port:
            return False
        shown = f"[{name}]" if ":" in name else name
        return shown in self._names or (self._any_address and _is_address(name))

    def _default_port(self) -> int:
        """What a browser leaves out."""
        return self._port if self._port in {80, 443} else 80


def same_origin(origin: str, host: str) -> bool:
    """Whether an Origin header is of the very host that was asked. `null` is none."""
    scheme, _, rest = origin.partition("://")
    return scheme in {"http", "https"} and rest.lower() == host.lower()


def _is_address(name: str) -> bool:
    try:
        ip_address(name)
    except ValueError:
        return False
    return True
