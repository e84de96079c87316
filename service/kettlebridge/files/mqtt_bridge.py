"""From the tables of a kettle file on MQTT to the values that the driver takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from kettlebridge.files.mqtt_tables import BrokerKeys, MqttProbeTable, MqttRelayTable
from kettlebridge.model.demand import Output
from kettlebridge.model.errors import KettlebridgeError
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.mqtt import Broker, Place, ProbeWire, RelayWire, Tls


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttBridge:
    """Nodes on a broker: what probes and relays are called there."""

    broker: Broker
    client_id: str
    probes: Mapping[ProbeName, ProbeWire]
    relays: Mapping[Output, RelayWire]


class PasswordError(KettlebridgeError):
    """A password file cannot be read."""


def broker_of(table: BrokerKeys, folder: Path) -> Broker:
    """The broker; files that it names lie in `folder` unless they say otherwise. Raises PasswordError."""

    def beside(name: str | None) -> str | None:
        return None if name is None else str(folder / name)

    tls = Tls(ca_file=beside(table.ca_file), cert_file=beside(table.cert_file), key_file=beside(table.key_file))
    return Broker(
        host=table.host,
        port=table.port,
        version=table.version,
        username=table.username,
        password=None if table.password_file is None else _password(folder / table.password_file),
        tls=tls if table.tls else None,
    )


def _password(path: Path) -> str:
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except OSError as error:
        raise PasswordError(f"{path} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise PasswordError(f"{path} is not UTF-8 text") from error
    if not lines or not lines[0]:
        raise PasswordError(f"{path} has nothing in its first line")
    return lines[0]


def probe_wire(source: str, table: MqttProbeTable | None) -> ProbeWire:
    """A probe's `source` with its `[probe.NAME.mqtt]`."""
    told = table or MqttProbeTable()
    return ProbeWire(
        place=Place.of(source),
        unit=told.unit,
        max_age_s=told.max_age_s,
        gravity=None if told.gravity_sg is None else Place.of(told.gravity_sg),
    )


def relay_wire(table: MqttRelayTable) -> RelayWire:
    """A `[relay.NAME.mqtt]`."""
    return RelayWire(
        command=table.command,
        on=table.on,
        off=table.off,
        state=None if table.state is None else Place.of(table.state),
        state_on=table.on if table.state_on is None else table.state_on,
        state_off=table.off if table.state_off is None else table.state_off,
        availability=table.availability,
        available=table.available,
        auto_off_s=table.auto_off_s,
        after_power_cut=table.after_power_cut,
    )
