"""The firmware of a board without its I/O: bytes and a clock reading in, frames out.

The law: an output is on only under a lease, and a lease comes only from an accepted demand of the claimed session. It
ends at a board time that the demand itself names, so a demand that was delayed can neither start nor extend anything.
Every time is in ms of the supply's clock, which never goes back; `up` on the wire counts from the last reset.
"""

from __future__ import annotations

import random
from collections.abc import Mapping

from kettlesim.wire_serial.admission import Demand, Standing, age_ms, keeps_latch, refusal
from kettlesim.wire_serial.encoding import UINT16_RANGE, UINT32_RANGE, decode, encode
from kettlesim.wire_serial.fittings import LATCHING, NO_INPUT, Cap, Fittings, Input
from kettlesim.wire_serial.memory import Memory, Timer
from kettlesim.wire_serial.outputs import Outputs
from kettlesim.wire_serial.pins import Pin
from kettlesim.wire_serial.probes import CONVERSION_MS, ProbeBus
from kettlesim.wire_serial.telling import Pairs, Report, introduction, probe_list, report

_MAJOR = 1
_TELL_EVERY_MS = 500
_TELL_CHANGE_AFTER_MS = 80  # from the last T: a flickering input fills neither the wire nor the 100 ms
_WATCHDOG_MS = 2000
_RING_BYTES = 96


class VirtualBoard:
    """One board. `receive` and `poll` give the frames that it sends by then, in order.

    `outputs.pins` are its pins, `bus.probes` its thermometers with their faults.
    """

    def __init__(self, fittings: Fittings, bus: ProbeBus, *, seed: int = 0, now_ms: int = 0) -> None:
        self.fittings = fittings
        self.bus = bus
        self.outputs = Outputs()
        self._rng = random.Random(seed)  # noqa: S311 - numbers that differ, not secrets
        self._inputs = NO_INPUT
        self._out: list[bytes] = []
        self._on_timer = {
            Timer.LEASE_END: self._end_lease,
            Timer.BOOTED: self._start,
            Timer.WATCHDOG: self._bite,
            Timer.RESUMED: self._resume,
            Timer.CONVERTED: self._convert,
            Timer.TELL: self._tell,
        }
        self._on_frame = {"Q": self._introduce, "X": self._drop_all, "C": self._claim, "O": self._demand}
        self._memory = self._reset("por", now_ms)

    # What the world does to it.

    def receive(self, data: bytes, now_ms: int) -> list[bytes]:
        """Bytes that came in by `now_ms`."""
        self._advance(now_ms)
        memory = self._memory
        if memory.stalled:
            memory.ring += data[: _RING_BYTES - len(memory.ring)]
        elif memory.listening:
            self._read(data, now_ms)
        return self.poll(now_ms)

    def poll(self, now_ms: int) -> list[bytes]:
        """Nothing came in by `now_ms`."""
        self._advance(now_ms)
        out, self._out = self._out, []
        return out

    def next_due_ms(self, *, pin_edges: bool = True) -> int | None:
        """When to poll next; None: it is switched off. Without `pin_edges`, switching within a burst is no reason."""
        due_ms = min(self._memory.due.values(), default=None)
        edge_ms = self.outputs.edge_ms if pin_edges else None
        if due_ms is None or edge_ms is None:
            return due_ms
        return min(due_ms, edge_ms)

    def set_inputs(self, inputs: Input, now_ms: int) -> None:
        """The levels of the inputs from `now_ms` on. A latching one drops heater and main contactor here and now."""
        inputs &= self.fittings.inputs
        if inputs == self._inputs:
            return
        self._advance(now_ms)
        risen = inputs & ~self._inputs
        self._inputs = inputs
        self._memory.seen |= inputs
        if risen & LATCHING:
            self._latch(risen & LATCHING, now_ms)
        self._notice(now_ms)

    def stick(self, pin: Pin, level: bool | None, now_ms: int) -> None:
        """A fault: the pin stays at `level` whatever the firmware wants. None mends it."""
        self._advance(now_ms)
        self.outputs.pins.stick(pin, level, now_ms)
        self._notice(now_ms)

    def reboot(self, cause: str, now_ms: int) -> None:
        """A reset: por, brown, wdt, ext or soft. Pins fall, all is forgotten, a new boot number is drawn."""
        self._advance(now_ms)
        self._memory = self._reset(cause, now_ms)

    def switch_off(self, now_ms: int) -> None:
        """Takes its supply away: pins fall, nothing is sent or heard until `reboot`."""
        self.reboot("por", now_ms)
        self._memory.due.clear()

    def stall(self, for_ms: int, now_ms: int) -> None:
        """The main loop hangs: no frame is read or made. The lease timer and the hardware watchdog run on."""
        self._advance(now_ms)
        memory = self._memory
        if not memory.listening:
            return
        memory.stalled = True
        memory.due[Timer.RESUMED] = now_ms + for_ms
        if Cap.HARDWARE_WATCHDOG in self.fittings.cap:
            memory.due[Timer.WATCHDOG] = now_ms + _WATCHDOG_MS
        for timer in (Timer.CONVERTED, Timer.TELL):
            memory.due[timer] = max(memory.due[timer], now_ms + for_ms)

    # What may be looked at.

    @property
    def inputs(self) -> Input:
        """The levels of the inputs."""
        return self._inputs

    @property
    def session(self) -> int:
        """The claimed session; 0: none."""
        return self._memory.session

    @property
    def boot(self) -> int:
        """The number of this boot."""
        return self._memory.boot

    @property
    def buzzer(self) -> int:
        """The pattern being sounded; 0: silence."""
        return self._memory.buzzer

    def heater_on_ms(self, now_ms: int) -> int:
        """How long the heater's pin has been on in all by `now_ms`, as far as nothing else falls due before."""
        end_ms = min(now_ms, *self._memory.due.values()) if self._memory.due else now_ms
        while (edge_ms := self.outputs.edge_ms) is not None and edge_ms < end_ms:
            self.outputs.edge(edge_ms)
        return self.outputs.pins.heater_on_ms(now_ms)

    def up_ms(self, now_ms: int) -> int:
        """The uptime as the wire tells it, modulo 2**32."""
        return (now_ms - self._memory.reset_ms + self.fittings.first_up_ms) % UINT32_RANGE

    def lease_left_ms(self, now_ms: int) -> int:
        """0: there is no lease."""
        end_ms = self._memory.lease_end_ms
        return 0 if end_ms is None else max(0, end_ms - now_ms)

    # Time.

    def _reset(self, cause: str, at_ms: int) -> Memory:
        self.outputs.all_off(at_ms)
        self.bus.reset(at_ms)
        return Memory(
            boot=self._rng.randrange(UINT32_RANGE),
            cause=cause,
            reset_ms=at_ms,
            on_before_ms=self.outputs.pins.heater_on_ms(at_ms),
            due={Timer.BOOTED: at_ms + self.fittings.boot_ms},
            seen=self._inputs,
        )

    def _advance(self, now_ms: int) -> None:
        """Everything that falls due by `now_ms`, each at its own time."""
        while (at_ms := self.next_due_ms()) is not None and at_ms <= now_ms:
            due = self._memory.due
            timer = min((timer for timer, when_ms in due.items() if when_ms == at_ms), default=None)
            if timer is None:
                self.outputs.edge(at_ms)
            else:
                del due[timer]
                self._on_timer[timer](at_ms)

    def _start(self, at_ms: int) -> None:
        memory = self._memory
        memory.listening = True
        memory.due[Timer.CONVERTED] = at_ms + CONVERSION_MS
        memory.due[Timer.TELL] = at_ms
        if self._inputs & LATCHING:
            self._latch(self._inputs & LATCHING, at_ms)
        self._send("B", introduction(self.fittings, boot=memory.boot, cause=memory.cause))
        self._list_probes()

    def _end_lease(self, at_ms: int) -> None:
        self._release(at_ms)
        self._memory.lapsed = True
        self._notice(at_ms)

    def _bite(self, at_ms: int) -> None:
        self._memory = self._reset("wdt", at_ms)

    def _resume(self, at_ms: int) -> None:
        memory = self._memory
        memory.stalled = False
        memory.due.pop(Timer.WATCHDOG, None)
        waiting, memory.ring = bytes(memory.ring), bytearray()
        self._read(waiting, at_ms)

    def _convert(self, at_ms: int) -> None:
        self.bus.convert(at_ms)
        self._memory.due[Timer.CONVERTED] = at_ms + CONVERSION_MS

    def _latch(self, inputs: Input, at_ms: int) -> None:
        self._memory.latched |= inputs
        self._memory.latch_told_ms = None
        self.outputs.trip(at_ms)

    def _release(self, at_ms: int) -> None:
        """Everything off; lease and session are over."""
        memory = self._memory
        self.outputs.all_off(at_ms)
        memory.buzzer = 0
        memory.session = 0
        memory.lease_end_ms = None
        memory.due.pop(Timer.LEASE_END, None)

    # Frames out.

    def _send(self, kind: str, pairs: Pairs) -> None:
        memory = self._memory
        self._out.append(encode(memory.next_seq, kind, pairs))
        memory.next_seq = (memory.next_seq + 1) % UINT16_RANGE

    def _answer(self, seq: int, kind: str, *pairs: tuple[str, str]) -> None:
        self._out.append(encode(seq, kind, pairs))

    def _list_probes(self) -> None:
        self._memory.told_roms = self.bus.roms()
        self._send("P", probe_list(self._memory.told_roms))

    def _news(self) -> tuple[object, ...]:
        """What must be told within 100 ms of a change, the inputs aside."""
        outputs, memory = self.outputs, self._memory
        return (
            outputs.heater_permille(),
            outputs.pins.is_on(Pin.PUMP),
            outputs.pins.is_on(Pin.CONTACTOR),
            memory.session,
            memory.lease_end_ms is None,
        )

    def _notice(self, at_ms: int) -> None:
        """A T goes out early if something has changed since the last one."""
        memory = self._memory
        if memory.stalled or Timer.TELL not in memory.due:
            return
        inputs_differ = self._inputs | memory.latched != memory.told_inputs or memory.seen != NO_INPUT
        if inputs_differ or self._news() != memory.told:
            early_ms = max(at_ms, memory.told_ms + _TELL_CHANGE_AFTER_MS)
            memory.due[Timer.TELL] = min(memory.due[Timer.TELL], early_ms)

    def _tell(self, at_ms: int) -> None:
        memory, pins = self._memory, self.outputs.pins
        if self.bus.roms() != memory.told_roms:
            self._list_probes()
        told = Report(
            up_ms=self.up_ms(at_ms),
            session=memory.session,
            temps=self.bus.told(at_ms),
            heater_permille=self.outputs.heater_permille(),
            heater_on_ms=pins.heater_on_ms(at_ms) - memory.on_before_ms,
            pump=pins.is_on(Pin.PUMP),
            contactor=pins.is_on(Pin.CONTACTOR),
            inputs=self._inputs | memory.latched | memory.seen,
            lease_left_ms=self.lease_left_ms(at_ms),
            dropped=memory.reader.dropped,
        )
        self._send("T", report(told))
        memory.told, memory.told_inputs, memory.told_ms = self._news(), told.inputs, at_ms
        memory.seen = NO_INPUT
        if memory.latched and memory.latch_told_ms is None:
            memory.latch_told_ms = at_ms
        memory.due[Timer.TELL] = at_ms + _TELL_EVERY_MS
        self._notice(at_ms)

    # Frames in.

    def _read(self, data: bytes, at_ms: int) -> None:
        reader = self._memory.reader
        for frame in reader.feed(data):
            heard = decode(frame)
            if heard is None:
                reader.dropped += 1
            elif heard.values is None:
                self._answer(heard.seq, "N", ("why", "key"))
            else:
                self._on_frame[heard.kind](heard.seq, heard.values, at_ms)
        self._notice(at_ms)

    def _introduce(self, _seq: int, _values: Mapping[str, int], _at_ms: int) -> None:
        memory = self._memory
        self._send("B", introduction(self.fittings, boot=memory.boot, cause=memory.cause))
        self._list_probes()

    def _drop_all(self, _seq: int, _values: Mapping[str, int], at_ms: int) -> None:
        self._release(at_ms)

    def _claim(self, seq: int, values: Mapping[str, int], at_ms: int) -> None:
        memory = self._memory
        why = {
            "version": values["v"] != _MAJOR,
            "stale": values["boot"] != memory.boot,
            "busy": memory.lease_end_ms is not None,
        }
        refused = next((reason for reason, holds in why.items() if holds), None)
        if refused is not None:
            self._answer(seq, "N", ("why", refused))
            return
        self._release(at_ms)
        memory.session = self._rng.randrange(1, UINT32_RANGE)
        memory.lapsed = False
        memory.newest_e = None
        self._answer(seq, "A", ("sid", f"{memory.session:08X}"))

    def _demand(self, seq: int, values: Mapping[str, int], at_ms: int) -> None:
        demand, standing = Demand(**values), self._standing(at_ms)
        why = refusal(demand, standing)
        if why is not None:
            self._answer(seq, "N", ("why", why))
            return
        memory = self._memory
        memory.newest_e = demand.e
        memory.lease_end_ms = at_ms + demand.ttl - age_ms(demand, self.up_ms(at_ms))
        memory.due[Timer.LEASE_END] = memory.lease_end_ms
        memory.latched = memory.latched if keeps_latch(demand, standing) else NO_INPUT
        memory.buzzer = demand.z
        self.outputs.apply(heater_permille=demand.h, pump=demand.p == 1, contactor=demand.k == 1, at_ms=at_ms)
        self._answer(seq, "A")

    def _standing(self, at_ms: int) -> Standing:
        memory = self._memory
        return Standing(
            session=memory.session,
            lapsed=memory.lapsed,
            up_ms=self.up_ms(at_ms),
            newest_e=memory.newest_e,
            longest_ttl_ms=self.fittings.longest_ttl_ms,
            drive=self.fittings.drive,
            input_latched=memory.latched != NO_INPUT,
            latch_told_ago_ms=None if memory.latch_told_ms is None else at_ms - memory.latch_told_ms,
            input_active=bool(self._inputs & LATCHING),
            contactor_on_for_ms=self.outputs.contactor_on_for_ms(at_ms),
            heat_without_contactor=self.outputs.heats_without_contactor(),
        )
