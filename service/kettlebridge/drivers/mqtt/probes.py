"""What probes say over MQTT, and when one has been silent for too long."""

from __future__ import annotations

import logging
from collections.abc import Mapping

from kettlebridge.drivers.mqtt.codec import celsius, shown
from kettlebridge.model.ids import ProbeName
from kettlebridge.model.mqtt import Message, ProbeWire
from kettlebridge.model.reading import ReadingFault
from kettlebridge.model.sample import Sample

log = logging.getLogger(__name__)

SILENCE_EVERY_S = 1.0
"""How often a silent probe is reported as giving no answer."""


class Probes:
    """One line in the log when a probe goes wrong, one when it is well again."""

    def __init__(self, wires: Mapping[ProbeName, ProbeWire], now_s: float) -> None:
        self._wires = wires
        self._heard_s = dict.fromkeys(wires, now_s)
        self._missed_s = dict.fromkeys(wires, now_s)
        self._unwell: set[ProbeName] = set()

    def sample(self, name: ProbeName, message: Message, now_s: float) -> Sample:
        """What one message says: a temperature, or that no number stands in its place."""
        wire = self._wires[name]
        value_c = celsius(message.payload, wire.place, wire.unit)
        self._heard_s[name] = now_s
        if value_c is None:
            self._note(name, f"{wire.place} holds no number: {shown(message.payload)}")
            return Sample(probe=name, fault=ReadingFault.NOT_A_NUMBER, taken_s=now_s)
        if name in self._unwell:
            self._unwell.remove(name)
            log.info("probe %s tells again", name)
        return Sample(probe=name, value_c=value_c, taken_s=now_s)

    def silent(self, now_s: float) -> tuple[Sample, ...]:
        """A sample without answer for each probe that told nothing for too long, once a second."""
        samples = []
        for name, wire in self._wires.items():
            silent_s = now_s - self._heard_s[name]
            if silent_s > wire.max_age_s and now_s >= self._missed_s[name] + SILENCE_EVERY_S:
                self._missed_s[name] = now_s
                self._note(name, f"nothing on {wire.place.topic} for {silent_s:.0f} s")
                samples.append(Sample(probe=name, fault=ReadingFault.NO_ANSWER, taken_s=now_s))
        return tuple(samples)

    def _note(self, name: ProbeName, what: str) -> None:
        if name not in self._unwell:
            self._unwell.add(name)
            log.warning("probe %s: %s", name, what)
