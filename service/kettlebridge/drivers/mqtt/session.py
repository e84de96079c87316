"""One session with the nodes of a kettle, without any I/O: what their messages mean, and what may be told to them.

The law: a node keeps a relay on for `auto_off_s` after an order, and an order follows from a finished tick alone. What
is retained was said some time before: it is never a reading, never a state, and a retained command that could switch
something on ends the session before it begins. Commands that are not ours mean that somebody else has the nodes.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from functools import partial

from kettlebridge.drivers.mqtt import codec
from kettlebridge.drivers.mqtt.echoes import Echoes
from kettlebridge.drivers.mqtt.probes import Probes
from kettlebridge.drivers.mqtt.relays import Relays
from kettlebridge.drivers.mqtt.settings import MqttSettings
from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.errors import LinkError, LinkReason
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.mqtt import Message, ProbeWire, RelayWire
from kettlebridge.model.sample import BoardReport, Sample

SIMULATED = "kettlesim/simulated/"
"""Before a command topic: where a simulated node says that it is one."""

TOKENS = 64
"""Reports remembered; an order that follows from an older one is not sent."""

SECOND_OFF_S = 5.0
"""A single foreign "off" may be the last will of a session that died; a second one this soon after is no accident."""


class Phase(Enum):
    """Of a session: it listens whether others are there, asks how the relays stand, and serves."""

    LISTENING = "listening"
    ASKING = "asking"
    SERVING = "serving"


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """What one message says, for the inbox."""

    samples: tuple[Sample, ...] = ()
    report: BoardReport | None = None


NOTHING = News()
Take = Callable[[Message, float], News]


class Session:
    """From the first message to the end. Raises LinkError when a message says that there can be no session.

    `fresh_s` is Clock time of the last report.
    """

    def __init__(self, settings: MqttSettings, echoes: Echoes, now_s: float) -> None:
        self.phase = Phase.LISTENING
        self.fresh_s = now_s
        self._settings = settings
        self._echoes = echoes
        self._relays = Relays(settings.relays, now_s)
        self._probes = Probes(settings.probes, now_s)
        self._tokens: deque[tuple[int, float]] = deque(maxlen=TOKENS)
        self._foreign_off_s: float | None = None
        self._simulated: set[Output] = set()
        self._takers: dict[str, list[Take]] = {}
        for name, probe in settings.probes.items():
            self._takers.setdefault(probe.place.topic, []).append(partial(self._probe, name, probe))
        for output, relay in settings.relays.items():
            for topic, take in self._topics_of(output, relay):
                self._takers.setdefault(topic, []).append(take)

    @property
    def topics(self) -> tuple[str, ...]:
        """All that must be subscribed to."""
        return tuple(self._takers)

    def take(self, message: Message, now_s: float) -> News:
        """What a message received at `now_s` says."""
        told = [take(message, now_s) for take in self._takers.get(message.topic, ())]
        if self.phase is not Phase.SERVING:
            return NOTHING
        report = next((news.report for news in reversed(told) if news.report is not None), None)
        samples = tuple(sample for news in told for sample in news.samples)
        return News(samples=samples + self._probes.silent(now_s), report=report)

    def silent(self, now_s: float) -> tuple[Sample, ...]:
        """Samples without answer for probes that have been silent for too long."""
        return self._probes.silent(now_s)

    def order(self, demands: tuple[Demand, ...], now_s: float) -> tuple[Message, ...]:
        """The commands that say `demands`; none while it does not serve, or when they follow from too old a report.

        While an earlier command of a relay has not come back from the broker, only "off" follows it: what a frozen
        broker may hold is one "on" at most. Raises ValueError for demands out of range: a bug.
        """
        taken_s = next((taken_s for token, taken_s in self._tokens if token == demands[0].acted_on), None)
        if self.phase is not Phase.SERVING or taken_s is None or now_s - taken_s >= self._settings.lease_s:
            return ()
        asked = {demand.output: demand.permille for demand in demands}
        return self._told(
            {
                output: asked.get(output, 0)
                for output, relay in self._settings.relays.items()
                if not asked.get(output, 0) or not self._echoes.waits(relay.command)
            },
            now_s,
        )

    def all_off(self, now_s: float) -> tuple[Message, ...]:
        """The commands that switch everything off, in any phase."""
        return self._told(dict.fromkeys(self._settings.relays, 0), now_s)

    def missing(self) -> LinkError | None:
        """Why it cannot serve yet, None when it can: each relay's node has answered that it is off."""
        relays = self._settings.relays
        away = [output for output, standing in self._relays.standing.items() if standing.available is False]
        if away:
            return LinkError(LinkReason.NODE_AWAY, _named(away, relays, "its node says that it is away"))
        if self._relays.unanswered:
            words = "its node does not answer; expected on "
            told = [f"{_name(output)}: {words}{relays[output].state}" for output in self._sorted_unanswered()]
            return LinkError(LinkReason.NODE_AWAY, "; ".join(told))
        on = [output for output, standing in self._relays.standing.items() if standing.permille]
        if on:
            return LinkError(LinkReason.UNSAFE, _named(on, relays, "it is on although it was told to be off"))
        if self._settings.require_simulated and len(self._simulated) < len(relays):
            real = [output for output in relays if output not in self._simulated]
            return LinkError(LinkReason.NOT_SIMULATED, _named(real, relays, "its node does not say it is simulated"))
        return None

    def _sorted_unanswered(self) -> list[Output]:
        return [output for output in self._settings.relays if output in self._relays.unanswered]

    def _told(self, permille: Mapping[Output, int], now_s: float) -> tuple[Message, ...]:
        self._relays.told(permille, now_s)
        return tuple(
            Message(
                topic=relay.command,
                payload=codec.order(relay, permille[output]),
                expiry_s=None if relay.auto_off_s is None else max(1, int(relay.auto_off_s)),
            )
            for output, relay in self._settings.relays.items()
            if output in permille
        )

    def _topics_of(self, output: Output, relay: RelayWire) -> Iterable[tuple[str, Take]]:
        yield relay.command, partial(self._command, output, relay)
        if relay.state is not None:
            yield relay.state.topic, partial(self._state, output, relay)
        if relay.availability is not None:
            yield relay.availability, partial(self._availability, output, relay)
        if self._settings.require_simulated:
            yield SIMULATED + relay.command, partial(self._is_simulated, output)

    def _probe(self, name: ProbeName, probe: ProbeWire, message: Message, now_s: float) -> News:
        return NOTHING if message.retained else News(samples=(self._probes.sample(name, message, now_s),))

    def _state(self, output: Output, relay: RelayWire, message: Message, now_s: float) -> News:
        permille = codec.state_permille(message.payload, relay)
        if message.retained or permille is None:
            return NOTHING
        self._relays.answered(output, permille, now_s)
        if self.phase is not Phase.SERVING or self._relays.unanswered:
            return NOTHING
        return News(report=self.report(now_s))

    def report(self, now_s: float) -> BoardReport:
        """How everything stands now. Orders may follow from it."""
        token = self._tokens[-1][0] + 1 if self._tokens else 1
        self._tokens.append((token, now_s))
        self.fresh_s = now_s
        return BoardReport(board=self._relays.account(token, now_s), taken_s=now_s)

    def _availability(self, output: Output, relay: RelayWire, message: Message, now_s: float) -> News:
        available = message.payload.decode(errors="replace").strip() == relay.available
        self._relays.standing[output].available = available
        if not available and self.phase is Phase.SERVING:
            words = f"its node says {codec.shown(message.payload)} on {relay.availability}"
            raise LinkError(LinkReason.NODE_AWAY, f"{_name(output)}: {words}")
        return NOTHING

    def _is_simulated(self, output: Output, message: Message, now_s: float) -> News:
        if not message.retained:
            self._simulated.add(output)
        return NOTHING

    def _command(self, output: Output, relay: RelayWire, message: Message, now_s: float) -> News:
        off = message.payload == relay.off.encode()
        if message.retained:
            if message.payload and not off:
                said = f"the broker keeps {codec.shown(message.payload)} for {relay.command}"
                raise LinkError(
                    LinkReason.UNSAFE,
                    f"{_name(output)}: {said} and tells its node so whenever that connects; take it back with: "
                    f"mosquitto_pub -r -n -t '{relay.command}'",
                )
            return NOTHING
        if self._echoes.came(message):
            return NOTHING
        if off and (self._foreign_off_s is None or now_s > self._foreign_off_s + SECOND_OFF_S):
            self._foreign_off_s = now_s
            return NOTHING
        said = f"somebody else says {codec.shown(message.payload)} on {relay.command}"
        raise LinkError(LinkReason.BUSY, f"{_name(output)}: {said}")


def _name(output: Output) -> str:
    return f"relay.{output.value}"


def _named(outputs: Iterable[Output], relays: Mapping[Output, RelayWire], what: str) -> str:
    return "; ".join(f"{_name(output)} ({relays[output].command}): {what}" for output in outputs)
