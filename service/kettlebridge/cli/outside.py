"""What a service file has go out, running beside the kettles. Whatever fails out here stays out here."""

from __future__ import annotations

import logging
import secrets
from collections.abc import AsyncIterator, Sequence
from contextlib import AbstractAsyncContextManager, AsyncExitStack, asynccontextmanager

from kettlebridge import __version__
from kettlebridge.files.service_file import MqttOutSetting, NotifySetting, ServiceFile
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.mqtt import Message
from kettlebridge.outbound.metrics import Metrics, exposed
from kettlebridge.outbound.mqtt_out import Connection, MqttOut, Told
from kettlebridge.outbound.notifier import Notifier, targets
from kettlebridge.outbound.rules import DEFAULT_RULES, About, Quiet, Rule, Rules
from kettlebridge.ports import Clock, LocalTime, Publisher
from kettlebridge.runtime.kept_tasks import ended, kept

log = logging.getLogger(__name__)


@asynccontextmanager
async def outside(
    wanted: ServiceFile, kettles: Sequence[Kettle], clock: Clock, time: LocalTime
) -> AsyncIterator[tuple[Publisher, ...]]:
    """The listeners, with their work running meanwhile. Raises OperatorError: a port or an address cannot be used."""
    listeners: list[Publisher] = []
    async with AsyncExitStack() as stack:
        if wanted.metrics is not None:
            metrics = Metrics()
            port = stack.enter_context(exposed(metrics, wanted.metrics.host, wanted.metrics.port))
            log.info("metrics: http://%s:%d/metrics", wanted.metrics.host, port)
            listeners.append(metrics)
        if wanted.mqtt_out is not None:
            out = mqtt_out(wanted.mqtt_out, kettles, clock)
            stack.push_async_callback(ended, kept(out.run, "telemetry", clock))
            listeners.append(out)
        if wanted.notify is not None:
            notifier = notifier_of(wanted.notify, time)
            stack.push_async_callback(ended, kept(notifier.run, "notifications", clock))
            listeners.append(notifier)
        yield tuple(listeners)


def mqtt_out(wanted: MqttOutSetting, kettles: Sequence[Kettle], clock: Clock) -> MqttOut:
    """Telemetry to the broker that the file names."""
    from kettlebridge.drivers.mqtt.broker import open_broker  # noqa: PLC0415 - only where a file names one

    told = Told(base=wanted.base, period_s=wanted.every_s, prefix=wanted.discovery_prefix, version=__version__)

    def connect(will: Message) -> AbstractAsyncContextManager[Connection]:
        return open_broker(wanted.broker, f"{wanted.client_id}-{secrets.token_hex(4)}", will)

    return MqttOut(told, {kettle.name: kettle for kettle in kettles}, connect, clock)


def notifier_of(wanted: NotifySetting, time: LocalTime) -> Notifier:
    """Notifications as the file has them. Raises OperatorError."""
    rules = [
        Rule(
            about=About(rule.about),
            codes=frozenset(rule.codes),
            send=rule.send,
            in_quiet=rule.in_quiet,
            repeat_s=rule.repeat_s,
        )
        for rule in wanted.rules
    ]
    quiet = None if wanted.quiet is None else Quiet(since=wanted.quiet[0], until=wanted.quiet[1])
    return Notifier(Rules(rules or DEFAULT_RULES, quiet, time), targets(wanted.urls))
