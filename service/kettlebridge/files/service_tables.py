"""The tables of a service file: what goes out, and where to."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from kettlebridge.files.fields import (
    ID_WORDS,
    LINE_WORDS,
    LONG_LINE_WORDS,
    Id,
    Line,
    LongLine,
    SchemaOne,
    Table,
    number,
    switch,
    table,
    text,
)
from kettlebridge.files.mqtt_tables import BrokerKeys
from kettlebridge.model.time_of_day import HH_MM

HH_MM_WORDS = "HH:MM, local time"


class MqttOutTable(BrokerKeys):
    """`[mqtt_out]`: telemetry to a broker."""

    base: Id = text(ID_WORDS, "first part of every topic", default="kettlebridge")
    client_id: Id = text(ID_WORDS, "what the id at the broker begins with", default="kettlebridge-out")
    every_s: float = number(
        "s", 1, 60, "how often a kettle's state is told; at once when something happens", default=5.0
    )
    discovery: bool = switch("describe the kettles to a home-automation hub", default=False)
    discovery_prefix: Id = text(ID_WORDS, "first part of the hub's topics", default="homeassistant")


class MetricsTable(Table):
    """`[metrics]`: figures for a scraper."""

    port: int = number("", 1, 65_535, "where /metrics is served")
    host: Line = text(LINE_WORDS, "the address it listens on", default="127.0.0.1")


class RuleTable(Table):
    """`[[notify.rule]]`: the first rule that fits decides; a safety alarm is sent whatever they say."""

    about: Literal["alarm", "call", "end"] = table("what it is about")
    codes: list[Line] = text(
        "causes of alarms, or kinds of calls", "which of them", default=[], default_words="all", max_length=40
    )
    send: bool = switch("whether it is sent", default=True)
    in_quiet: bool = switch("in the quiet hours too", default=False)
    repeat_min: float | None = number(
        "min", 1, 120, "again until it is acknowledged or answered", default=None, default_words="once"
    )


class NotifyTable(Table):
    """`[notify]`: notifications."""

    urls_file: LongLine = text(
        LONG_LINE_WORDS, "a file, beside this one, with an Apprise address in each line: they hold secrets"
    )
    quiet_from: str | None = text(HH_MM_WORDS, "quiet hours begin", default=None, pattern=f"^{HH_MM}$")
    quiet_until: str | None = text(HH_MM_WORDS, "and end", default=None, pattern=f"^{HH_MM}$")
    rule: list[RuleTable] = table("what is sent", default=[], max_length=40)


class ServiceTables(Table):
    """A service file."""

    schema_version: SchemaOne = Field(alias="schema", description="version of this form of file")
    mqtt_out: MqttOutTable | None = table("telemetry to a broker; left out: none", default=None)
    metrics: MetricsTable | None = table("figures for a scraper; left out: none", default=None)
    notify: NotifyTable | None = table("notifications; left out: none", default=None)
