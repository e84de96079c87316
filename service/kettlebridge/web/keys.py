"""Who has a pass-phrase: a file of the owner's alone beside the record, with scrypt's hashes and never a phrase.

scrypt with N = 2^14, r = 8, p = 5, 16 MiB a guess: a setting of the OWASP password storage cheat sheet (2024).
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kettlebridge.model.errors import OperatorError
from kettlebridge.web.roles import Role

KEYS_NAME = "access.json"
SCRYPT_N, SCRYPT_R, SCRYPT_P = 2**14, 8, 5
SCRYPT_BYTES = 64 * 1024 * 1024
SALT_BYTES = 16
TOKEN_BYTES = 16
"""128 bits, for sessions and links."""

SHORTEST = 10
"""Letters of a pass-phrase."""

MOST_KEYS = 16
"""Each is tried in turn at a sign-in."""


class Key(BaseModel):
    """One pass-phrase. `who` is what the record says; `kettle` belongs to the role of one kettle."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    who: str = Field(min_length=1, max_length=32)
    role: Role
    kettle: str | None = None
    salt: str
    scrypt: str


class KeyFile(BaseModel):
    """The whole file. `link` is the SHA-256 of the view-only link's token."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    schema_: int = Field(default=1, alias="schema", ge=1, le=1)
    keys: tuple[Key, ...] = Field(default=(), max_length=MOST_KEYS)
    link: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Grant:
    """What a pass-phrase is for."""

    who: str
    role: Role
    kettle: str | None = None


def read_keys(folder: Path) -> KeyFile:
    """What is set; nothing where there is no file. Raises OperatorError for a file that cannot be used."""
    path = folder / KEYS_NAME
    try:
        return KeyFile.model_validate_json(path.read_bytes())
    except FileNotFoundError:
        return KeyFile()
    except (OSError, ValidationError) as error:
        raise OperatorError(f"{path}: cannot be used; set the pass-phrase anew after removing it") from error


def write_keys(folder: Path, keys: KeyFile) -> None:
    """Replaces the file, whole or not at all, for the owner alone. Raises OperatorError."""
    path = folder / KEYS_NAME
    fresh = path.with_name(f"{KEYS_NAME}.{secrets.token_hex(4)}")
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(keys.model_dump_json(by_alias=True, indent=1).encode())
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    except OSError as error:
        raise OperatorError(f"{path}: {error.strerror}") from error


def with_key(keys: KeyFile, grant: Grant, phrase: str) -> KeyFile:
    """The same with a pass-phrase for `grant.who`, in the place of any other of that name. Raises OperatorError."""
    if len(phrase) < SHORTEST:
        raise OperatorError(f"a pass-phrase has at least {SHORTEST} letters: several words are easier to remember")
    others = tuple(key for key in keys.keys if key.who != grant.who)
    if any(matches(key, phrase) for key in others):
        raise OperatorError("that pass-phrase is somebody else's already: each name has one of its own")
    if len(others) >= MOST_KEYS:
        raise OperatorError(f"at most {MOST_KEYS} pass-phrases")
    salt = secrets.token_bytes(SALT_BYTES)
    key = Key(who=grant.who, role=grant.role, kettle=grant.kettle, salt=salt.hex(), scrypt=_scrypt(phrase, salt).hex())
    return keys.model_copy(update={"keys": (*others, key)})


def without_key(keys: KeyFile, who: str) -> KeyFile:
    """The same without that name's. Raises OperatorError: it has none, or a link would be left that nobody guards."""
    others = tuple(key for key in keys.keys if key.who != who)
    if len(others) == len(keys.keys):
        raise OperatorError(
            f"{who} has no pass-phrase here; there is {', '.join(key.who for key in keys.keys) or 'none'}"
        )
    return keys.model_copy(update={"keys": others, "link": keys.link if others else None})


def matches(key: Key, phrase: str) -> bool:
    """Whether it is that one's. Takes tens of milliseconds: not for an event loop."""
    return hmac.compare_digest(_scrypt(phrase, bytes.fromhex(key.salt)), bytes.fromhex(key.scrypt))


def owner(keys: Sequence[Key], phrase: str) -> Key | None:
    """Whose pass-phrase it is. Every key is tried, found or not, so that time tells nothing."""
    found = [key for key in keys if matches(key, phrase)]
    return found[0] if found else None


def token_hash(token: str) -> str:
    """As a token is kept: it is random enough for a plain hash."""
    return hashlib.sha256(token.encode()).hexdigest()


def _scrypt(phrase: str, salt: bytes) -> bytes:
    return hashlib.scrypt(phrase.encode(), salt=salt, n=SCRYPT_N, r=SCRYPT_R, p=SCRYPT_P, maxmem=SCRYPT_BYTES, dklen=32)
