"""`passphrase`: who may see the page from the network, and tell kettles what."""

from __future__ import annotations

import argparse
import getpass
import os
import secrets
import sys
from pathlib import Path

import segno

from kettlebridge.cli.exits import DONE
from kettlebridge.cli.state_folder import add_state, state_folder
from kettlebridge.model.errors import UsageError
from kettlebridge.web.keys import (
    KEYS_NAME,
    TOKEN_BYTES,
    Grant,
    KeyFile,
    read_keys,
    token_hash,
    with_key,
    without_key,
    write_keys,
)
from kettlebridge.web.roles import Role

SIGNS_IN = (Role.WATCHER, Role.KETTLE, Role.ALL)
AGAIN = "Running services know it after their next start."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What `passphrase` may be told."""
    parser.add_argument("--who", default="brewer", metavar="NAME", help="whose it is, for the record (default brewer)")
    parser.add_argument(
        "--role",
        choices=[role.value for role in SIGNS_IN],
        default=Role.ALL.value,
        help="watcher: look, and stop all heat; kettle: everything on one kettle; all: everything (default)",
    )
    parser.add_argument("--kettle", metavar="NAME", help="the kettle, for the role of that name")
    other = parser.add_mutually_exclusive_group()
    other.add_argument("--remove", action="store_true", help="take the pass-phrase of --who away")
    other.add_argument(
        "--view-link", metavar="URL", help="make a new link that only shows the page at URL, with a QR code"
    )
    add_state(parser)


def run(args: argparse.Namespace) -> int:
    """Asks for the phrase twice, or reads one line where nobody types. Raises OperatorError, UsageError."""
    folder = state_folder(args.state, os.environ)
    keys = read_keys(folder)
    if args.view_link is not None:
        return _view_link(folder, keys, args.view_link)
    if args.remove:
        write_keys(folder, without_key(keys, args.who))
        print(f"{args.who} has no pass-phrase any more. {AGAIN}")
        return DONE
    if (args.role == Role.KETTLE.value) != (args.kettle is not None):
        raise UsageError("--role kettle and --kettle NAME belong together")
    grant = Grant(who=args.who, role=Role(args.role), kettle=args.kettle)
    write_keys(folder, with_key(keys, grant, _phrase()))
    print(f"Kept, as a hash, in {folder / KEYS_NAME}. {AGAIN}")
    return DONE


def _phrase() -> str:
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\n")
    phrase = getpass.getpass("Pass-phrase: ")
    if getpass.getpass("Once more: ") != phrase:
        raise UsageError("the two are not the same; nothing was changed")
    return phrase


def _view_link(folder: Path, keys: KeyFile, url: str) -> int:
    if not url.startswith(("http://", "https://")):
        raise UsageError(f"--view-link {url}: begin with http:// and the name of this machine, as a telephone types it")
    if not keys.keys:
        raise UsageError("without a pass-phrase the page is for this machine alone: set one first")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    write_keys(folder, keys.model_copy(update={"link": token_hash(token)}))
    link = f"{url.rstrip('/')}/view/{token}"
    print(f"{link}\nIt shows everything and tells nothing; an older link shows nothing any more. {AGAIN}")
    segno.make(link).terminal(compact=True)
    return DONE
