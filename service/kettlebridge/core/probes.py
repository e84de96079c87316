"""Which readings may be believed: every probe's memory, one reading at a time.

The law: a bad reading is never used. A jump is held back until four readings agree on it. 85.0000 °C is a
DS18B20's power-on value and also a true temperature on the way to the boil: it is taken only where the reading
before it leads there, and never by agreement.
"""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.kettle import Kettle, Probe, ProbeRole
from kettlebridge.model.reading import Reading

LOWEST_C = -10.0
HIGHEST_C = 115.0
JUMP_C = 2.0
JUMP_C_PER_S = 0.5
AGREE_C = 0.5
AGREE_COUNT = 4
HELD_BACK_S = 10.0
"""So long a probe counts as heard whose readings are all held back: time for four that agree, and no more."""
POWER_ON_C = 85.0
RECENT_READINGS = 24
_RECENT_MASK = (1 << RECENT_READINGS) - 1
SAME_CONVERSION_S = 0.05
CONTROL, AMBIENT, RETURN = ProbeRole.CONTROL, ProbeRole.AMBIENT, ProbeRole.RETURN
SAME_PLACE = ProbeRole.SAME_PLACE


class ProbeMemory(NamedTuple):
    """What is known of one probe.

    `good_c` (calibrated) was taken at `good_s`, batch time; None before the first. `heard_s` is when the newest
    believable conversion ended, a held-back jump included for 10 s. `bad_streak` counts bad readings in a row;
    `recent_bad` has a bit for each of the last `recent_count` readings, 1 for a bad one. `suspect_c` is the jump
    being held back, seen `suspect_count` times. `fault` is the newest reading's code, None when it was used.
    `told` is the fault that was told of, None again once the last 24 readings were all good: chatter is told once.
    """

    good_c: float | None = None
    good_s: float = 0.0
    heard_s: float | None = None
    last_s: float | None = None
    bad_streak: int = 0
    recent_bad: int = 0
    recent_count: int = 0
    suspect_c: float = 0.0
    suspect_count: int = 0
    fault: str | None = None
    told: str | None = None

    @property
    def mostly_bad(self) -> bool:
        """Whether more than half of the last 24 readings (8 at least) were bad."""
        return self.recent_count >= RECENT_READINGS // 3 and 2 * self.recent_bad.bit_count() > self.recent_count


UNHEARD = ProbeMemory()


def observe(memory: ProbeMemory, probe: Probe, reading: Reading, now_s: float) -> ProbeMemory:
    """The memory after one more reading. A conversion seen before changes nothing."""
    taken_s, last_s, good_c = now_s - reading.age_s, memory.last_s, memory.good_c
    if last_s is not None and taken_s <= last_s + SAME_CONVERSION_S:
        return memory
    read_c = reading.value_c
    if reading.fault is not None or read_c is None:
        return _bad(memory, taken_s, reading.fault.value if reading.fault else "no_value")
    if not LOWEST_C <= read_c <= HIGHEST_C:
        return _bad(memory, taken_s, "out_of_range")
    value_c = probe.gain * read_c + probe.offset_c
    if good_c is not None:
        allowed_c = JUMP_C + JUMP_C_PER_S * min(taken_s - memory.good_s, 4.0)
        if abs(value_c - good_c) <= allowed_c:
            return _good(memory, taken_s, value_c)
    if read_c == POWER_ON_C:
        return _bad(memory, taken_s, "power_on_value")
    return _suspect(memory, taken_s, value_c)


def _good(memory: ProbeMemory, taken_s: float, value_c: float) -> ProbeMemory:
    _, _, _, _, _, bad, count, _, _, _, told = memory
    bad = (bad << 1) & _RECENT_MASK
    count += count < RECENT_READINGS
    return ProbeMemory(value_c, taken_s, taken_s, taken_s, 0, bad, count, 0.0, 0, None, told if bad else None)


def _bad(memory: ProbeMemory, taken_s: float, fault: str) -> ProbeMemory:
    return ProbeMemory(
        good_c=memory.good_c,
        good_s=memory.good_s,
        heard_s=memory.heard_s,
        last_s=taken_s,
        bad_streak=memory.bad_streak + 1,
        recent_bad=((memory.recent_bad << 1) | 1) & _RECENT_MASK,
        recent_count=min(memory.recent_count + 1, RECENT_READINGS),
        suspect_c=memory.suspect_c,
        suspect_count=memory.suspect_count,
        fault=fault,
        told=memory.told or fault,
    )


def _suspect(memory: ProbeMemory, taken_s: float, value_c: float) -> ProbeMemory:
    """Holds a jump back; one that does not agree with the jump before it counts as bad."""
    agrees = memory.suspect_count > 0 and abs(value_c - memory.suspect_c) <= AGREE_C
    if agrees and memory.suspect_count + 1 >= AGREE_COUNT:
        return _good(memory, taken_s, value_c)
    first = memory.suspect_count == 0
    heard = (agrees or first) and (memory.good_c is None or taken_s - memory.good_s <= HELD_BACK_S)
    return ProbeMemory(
        good_c=memory.good_c,
        good_s=memory.good_s,
        heard_s=taken_s if heard else memory.heard_s,
        last_s=taken_s,
        bad_streak=0 if agrees or first else memory.bad_streak + 1,
        recent_bad=((memory.recent_bad << 1) | (0 if agrees or first else 1)) & _RECENT_MASK,
        recent_count=min(memory.recent_count + 1, RECENT_READINGS),
        suspect_c=value_c,
        suspect_count=memory.suspect_count + 1 if agrees else 1,
        fault="settling" if memory.good_c is None else "jump",
        told=memory.told,
    )


Memories = tuple[ProbeMemory, ...]


def observe_all(
    probes: tuple[Probe, ...], memories: Memories, readings: tuple[Reading, ...], now_s: float
) -> tuple[Memories, tuple[Event, ...]]:
    """The memories after these readings, and an event for each probe that went bad or came back."""
    if not readings:
        return memories, ()
    after = list(memories)
    events: list[Event] = []
    for reading in readings:
        for index, probe in enumerate(probes):
            if probe.name == reading.probe:
                told = after[index].told
                after[index] = new = observe(after[index], probe, reading, now_s)
                if new.told != told:
                    events.append(Event(code=EventCode.PROBE, values=(("probe", probe.name), ("fault", new.told))))
                break
    return tuple(after), tuple(events)


class Seats(NamedTuple):
    """What is known at each place that a tick looks at: `beside` are the probes in the control probe's own place.

    `control` and `ambient` unheard where there is none.
    """

    control: ProbeMemory
    ambient: ProbeMemory
    returning: ProbeMemory | None
    beside: Memories


def seats(probes: tuple[Probe, ...], memories: Memories) -> Seats:
    """The memories by their probes' places; of several in one place the first, `ambient` the first that was heard."""
    control: ProbeMemory | None = None
    returning: ProbeMemory | None = None
    ambient = UNHEARD
    beside: Memories = ()
    for probe, memory in zip(probes, memories, strict=True):
        role = probe.role
        if role is CONTROL:
            control = control or memory
        elif role is AMBIENT:
            ambient = memory if ambient.good_c is None else ambient
        elif role is RETURN:
            returning = memory if returning is None or returning.good_c is None else returning
        elif role is SAME_PLACE:
            beside = (*beside, memory)
    return Seats(control or UNHEARD, ambient, returning, beside)


def control_memory(probes: tuple[Probe, ...], memories: Memories) -> ProbeMemory:
    """The memory of the probe that the regulator follows."""
    for probe, memory in zip(probes, memories, strict=True):
        if probe.role is CONTROL:
            return memory
    return UNHEARD


def is_fresh(kettle: Kettle, memories: Memories, now_s: float) -> bool:
    """Whether the control probe gave a believed value lately."""
    return is_lately(kettle, control_memory(kettle.probes, memories), now_s)


def is_lately(kettle: Kettle, control: ProbeMemory, now_s: float) -> bool:
    """Whether what is known of that probe is young enough."""
    return control.good_c is not None and now_s - control.good_s <= kettle.safety.stale_after_s


def value_c(probes: tuple[Probe, ...], memories: Memories, role: ProbeRole, otherwise_c: float) -> float:
    """The last good value of the first probe of that role, `otherwise_c` where there is none."""
    for probe, memory in zip(probes, memories, strict=True):
        if probe.role is role and memory.good_c is not None:
            return memory.good_c
    return otherwise_c
