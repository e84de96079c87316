"""The tables of a kettle file that say how its probes and relays are reached over MQTT."""

from __future__ import annotations

from typing import Literal

from kettlebridge.files.fields import (
    ID_WORDS,
    LINE_WORDS,
    LONG_LINE_WORDS,
    Id,
    Line,
    LongLine,
    Table,
    choice,
    number,
    switch,
    table,
    text,
)
from kettlebridge.model.mqtt import AfterPowerCut, MqttVersion, Unit

TOPIC_WORDS = "a topic without + and #"
PLACE_WORDS = "TOPIC, or TOPIC#/POINTER into its JSON (RFC 6901)"


class BrokerKeys(Table):
    """Where a broker is and how to get in: the same keys wherever one is named."""

    host: Line = text(LINE_WORDS, "name or address of the broker")
    port: int = number("", 1, 65_535, "1883 is usual, 8883 with TLS", default=1883)
    version: MqttVersion = choice("of the protocol", default=MqttVersion.V311)
    username: Line | None = text(LINE_WORDS, "for a broker that asks", default=None)
    password_file: LongLine | None = text(
        LONG_LINE_WORDS, "a file, beside this one, whose first line is the password: it never stands here", default=None
    )
    tls: bool = switch("speak TLS; the broker's certificate must be good", default=False)
    ca_file: LongLine | None = text(
        LINE_WORDS,
        "certificate of the authority that vouches for the broker",
        default=None,
        default_words="the system's",
    )
    cert_file: LongLine | None = text(
        LONG_LINE_WORDS, "this service's own certificate, if the broker asks", default=None
    )
    key_file: LongLine | None = text(LONG_LINE_WORDS, "and its key", default=None)


class MqttTable(BrokerKeys):
    """`[bridge]` with `kind = "mqtt"`."""

    kind: Literal["mqtt"] = table("the wire to the board")
    client_id: Id | None = text(
        ID_WORDS,
        "what this service's ids at the broker begin with; each session adds a random end",
        default=None,
        default_words="kettlebridge- and the kettle's name",
    )


class MqttProbeTable(Table):
    """`[probe.NAME.mqtt]`."""

    unit: Unit = choice("what the number means", default=Unit.CELSIUS)
    max_age_s: float = number("s", 1, 3600, "silent for longer, the probe counts as giving no answer", default=3.0)
    gravity_sg: LongLine | None = text(
        PLACE_WORDS, "where a probe in the fermenter tells the specific gravity at 20 °C", default=None
    )


class MqttRelayTable(Table):
    """`[relay.NAME.mqtt]`: a relay on a node."""

    command: LongLine = text(TOPIC_WORDS, "where the node takes orders")
    on: LongLine = text(
        LONG_LINE_WORDS,
        "the order to be on; {percent} in it becomes 0-100, {ttl_s} becomes auto_off_s",
        default="ON",
    )
    off: LongLine = text(LONG_LINE_WORDS, "the order to be off", default="OFF")
    state: LongLine | None = text(
        PLACE_WORDS, "where the node answers each order with how the relay stands; a pump may lack it", default=None
    )
    state_on: LongLine | None = text(
        LONG_LINE_WORDS, "what stands there while it is on", default=None, default_words="as on"
    )
    state_off: LongLine | None = text(
        LONG_LINE_WORDS,
        "what stands there while it is off; needed beside state_on",
        default=None,
        default_words="as off",
    )
    availability: LongLine | None = text(TOPIC_WORDS, "where the node says whether it is there", default=None)
    available: Line = text(LINE_WORDS, "what stands there while it is", default="online")
    auto_off_s: float | None = number(
        "s",
        2,
        30,
        "so long after an order the node itself switches off: set it up there, and say it here; a pump may lack it",
        default=None,
    )
    rated_a: float | None = number(
        "A", 1, 63, "what the relay may carry for hours; heater and main contactor need it", default=None
    )
    after_power_cut: AfterPowerCut | None = choice(
        "what the node is set up to do when its supply comes back; heater and main contactor need off", default=None
    )
