"""What a session with a kettle's nodes is set up with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kettlebridge.model.demand import Output
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.mqtt import Broker, ProbeWire, RelayWire


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttSettings:
    """`client_id` is what the ids of all sessions begin with. No order follows from a report older than `lease_s`.

    `require_simulated` refuses nodes that do not say they are simulated.
    """

    broker: Broker
    client_id: str
    lease_s: float
    probes: Mapping[ProbeName, ProbeWire]
    relays: Mapping[Output, RelayWire]
    require_simulated: bool
