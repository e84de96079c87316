"""`--http` and its companions: where the page is served."""

from __future__ import annotations

import argparse

from kettlebridge.cli.exits import UsageError
from kettlebridge.web.server import DEFAULT_PORT, LOOPBACK, Address

MOST_PORT = 65535


def add_page(parser: argparse.ArgumentParser) -> None:
    """The options of a command that serves a page."""
    parser.add_argument(
        "--http",
        type=int,
        default=DEFAULT_PORT,
        metavar="PORT",
        help=f"port of the page (default {DEFAULT_PORT}); 0: no page",
    )
    parser.add_argument(
        "--http-host",
        default=LOOPBACK,
        metavar="ADDRESS",
        help=f"where it listens (default {LOOPBACK}: this machine alone; others need a pass-phrase first)",
    )
    parser.add_argument(
        "--http-name",
        action="append",
        default=[],
        metavar="NAME",
        help="a name that this machine has on the network, such as brewhouse.local; may be given again",
    )


def page_address(args: argparse.Namespace) -> Address | None:
    """Where, None for no page. Raises UsageError."""
    return address(args.http, host=args.http_host, names=tuple(args.http_name))


def address(port: int, *, host: str = LOOPBACK, names: tuple[str, ...] = ()) -> Address | None:
    """The same of its parts."""
    if not 0 <= port <= MOST_PORT:
        raise UsageError(f"--http {port}: a port is 1 to {MOST_PORT}, or 0 for no page")
    return Address(host=host, port=port, names=names) if port else None
