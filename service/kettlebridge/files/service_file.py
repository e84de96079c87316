"""Loading a service file: what goes out of a service, for all its kettles."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kettlebridge.files.document import read_document
from kettlebridge.files.key_lines import KeyPath
from kettlebridge.files.mqtt_bridge import PasswordError, broker_of
from kettlebridge.files.mqtt_rules import broker_findings
from kettlebridge.files.peek import value_at
from kettlebridge.files.service_tables import NotifyTable, ServiceTables
from kettlebridge.files.wording import in_order, validate
from kettlebridge.model.errors import FileError
from kettlebridge.model.mqtt import Broker


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttOutSetting:
    """`discovery_prefix` is None without discovery."""

    broker: Broker
    client_id: str
    base: str
    every_s: float
    discovery_prefix: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MetricsSetting:
    """Where figures are served."""

    host: str
    port: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NotifySetting:
    """`urls` hold secrets. `quiet` is (from, until); `rules` are as the file has them."""

    urls: tuple[str, ...]
    quiet: tuple[str, str] | None
    rules: tuple[NotifyRule, ...]

    def __repr__(self) -> str:
        return f"NotifySetting({len(self.urls)} addresses)"


@dataclass(frozen=True, slots=True, kw_only=True)
class NotifyRule:
    """A `[[notify.rule]]`."""

    about: str
    codes: tuple[str, ...]
    send: bool
    in_quiet: bool
    repeat_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceFile:
    """What goes out; each None where the file has no such table."""

    mqtt_out: MqttOutSetting | None = None
    metrics: MetricsSetting | None = None
    notify: NotifySetting | None = None


def load_service(path: str | os.PathLike[str]) -> ServiceFile:
    """Reads a service file. Raises FileError with every mistake in it."""
    document = read_document(path)
    tables, mistakes = validate(ServiceTables, document)
    mistakes += [document.mistake(key, what) for key, what in _findings(document.data)]
    if tables is None or mistakes:
        raise FileError(in_order(mistakes))
    folder = Path(document.path).parent
    out, metrics, notify = tables.mqtt_out, tables.metrics, tables.notify
    try:
        broker = None if out is None else broker_of(out, folder)
    except PasswordError as error:
        raise FileError((document.mistake(("mqtt_out", "password_file"), str(error)),)) from error
    try:
        urls = () if notify is None else _urls(folder / notify.urls_file)
    except PasswordError as error:
        raise FileError((document.mistake(("notify", "urls_file"), str(error)),)) from error
    return ServiceFile(
        mqtt_out=None
        if out is None or broker is None
        else MqttOutSetting(
            broker=broker,
            client_id=out.client_id,
            base=out.base,
            every_s=out.every_s,
            discovery_prefix=out.discovery_prefix if out.discovery else None,
        ),
        metrics=None if metrics is None else MetricsSetting(host=metrics.host, port=metrics.port),
        notify=None if notify is None else _notify(notify, urls),
    )


def _findings(data: dict[str, Any]) -> Iterator[tuple[KeyPath, str]]:
    if value_at(data, "mqtt_out") is not None:
        yield from broker_findings(data, "mqtt_out")
    given = [key for key in ("quiet_from", "quiet_until") if value_at(data, "notify", key) is not None]
    if len(given) == 1:
        yield ("notify", given[0]), "quiet_from and quiet_until go together"


def _urls(path: Path) -> tuple[str, ...]:
    try:
        lines = [line.strip() for line in path.read_text(encoding="utf-8").splitlines()]
    except OSError as error:
        raise PasswordError(f"{path} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise PasswordError(f"{path} is not UTF-8 text") from error
    urls = tuple(line for line in lines if line and not line.startswith("#"))
    if not urls:
        raise PasswordError(f"{path} has no address in it")
    return urls


def _notify(table: NotifyTable, urls: tuple[str, ...]) -> NotifySetting:
    quiet = None if table.quiet_from is None or table.quiet_until is None else (table.quiet_from, table.quiet_until)
    return NotifySetting(
        urls=urls,
        quiet=quiet,
        rules=tuple(
            NotifyRule(
                about=rule.about,
                codes=tuple(rule.codes),
                send=rule.send,
                in_quiet=rule.in_quiet,
                repeat_s=None if rule.repeat_min is None else 60.0 * rule.repeat_min,
            )
            for rule in table.rule
        ),
    )
