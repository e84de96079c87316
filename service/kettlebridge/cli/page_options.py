"""`--http` and its companions: where the page is served."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from kettlebridge.model.errors import UsageError
from kettlebridge.web.server import DEFAULT_PORT, LOOPBACK, Address, Certificate

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
    parser.add_argument(
        "--http-cert", type=Path, metavar="FILE", help="certificate with its chain (PEM): the page is served over TLS"
    )
    parser.add_argument("--http-key", type=Path, metavar="FILE", help="its private key (PEM)")
    parser.add_argument(
        "--recipes",
        action="append",
        default=[],
        type=Path,
        metavar="DIR",
        help="folder of recipes that the page reckons with (default: recipes in the state folder); may be given again",
    )


def page_address(args: argparse.Namespace) -> Address | None:
    """Where, None for no page. Raises UsageError."""
    if (args.http_cert is None) != (args.http_key is None):
        raise UsageError("--http-cert and --http-key belong together")
    certificate = None if args.http_cert is None else Certificate(chain=args.http_cert, key=args.http_key)
    wanted = Address(host=args.http_host, names=tuple(args.http_name), certificate=certificate)
    return at_port(args.http, wanted)


def at_port(port: int, wanted: Address) -> Address | None:
    """The same at that port; None for port 0. Raises UsageError."""
    if not 0 <= port <= MOST_PORT:
        raise UsageError(f"--http {port}: a port is 1 to {MOST_PORT}, or 0 for no page")
    return replace(wanted, port=port) if port else None
