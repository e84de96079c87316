"""A bad cable in accelerated time: what it spoils, and that no clock ever waits for what it lost."""

from __future__ import annotations

import asyncio
import contextlib
import random
from collections.abc import AsyncIterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.runtime.clock import PacedClock, run_paced
from kettlesim.line_proxy import CUT, UNHARMED, Damage, Lane, LineProxy
from kettlesim.wire_serial.line import SerialBoard
from kettlesim.wire_serial.pins import Pin
from tests.simulator_wire.bench import sealed
from tests.simulator_wire.host import Host, kettle, running

FRAMES = [sealed(f"{number} Q v=1") for number in range(200)]


class StillClock:
    """A clock that nobody turns."""

    def now_s(self) -> float:
        return 0.0

    async def sleep_until(self, when_s: float) -> None:
        await asyncio.get_running_loop().create_future()

    def gate(self, name: str) -> object:
        raise AssertionError(name)


def passed(damage: Damage, seed: int = 1) -> tuple[list[bytes], Lane]:
    """What comes out of a lane when FRAMES go in."""

    async def through() -> tuple[list[bytes], Lane]:
        out: list[bytes] = []
        lane = Lane(StillClock(), random.Random(seed), out.append)  # type: ignore[arg-type] # noqa: S311 - it asks for no gate
        lane.damage = damage
        lane.feed(b"".join(FRAMES))
        running_lane = asyncio.create_task(lane.run())
        await asyncio.sleep(0)
        running_lane.cancel()
        await asyncio.wait((running_lane,))
        return out, lane

    return asyncio.run(through())


def test_an_unharmed_lane_passes_every_byte() -> None:
    out, lane = passed(UNHARMED)
    assert out == FRAMES
    assert (lane.frames, lane.damaged) == (len(FRAMES), 0)


def test_a_cut_lane_passes_nothing() -> None:
    out, lane = passed(CUT)
    assert out == []
    assert lane.damaged == len(FRAMES)


def test_dropping_takes_whole_frames_and_counts_them() -> None:
    out, lane = passed(Damage(drop=0.3))
    assert set(out) < set(FRAMES)
    assert len(out) == len(FRAMES) - lane.spoilt["drop"]
    assert 30 < lane.spoilt["drop"] < 90


def test_a_flip_changes_one_bit() -> None:
    out, lane = passed(Damage(flip=1.0))
    assert lane.spoilt["flip"] == len(FRAMES)
    for before, after in zip(FRAMES, out, strict=True):
        changed = int.from_bytes(before) ^ int.from_bytes(after)
        assert changed.bit_count() == 1


def test_truncation_leaves_a_beginning() -> None:
    out, _ = passed(Damage(truncate=1.0))
    for before, after in zip(FRAMES, out, strict=True):
        assert before.startswith(after)
        assert len(after) < len(before)


def test_a_duplicate_follows_its_frame() -> None:
    out, _ = passed(Damage(duplicate=1.0))
    assert out == [frame for frame in FRAMES for _ in range(2)]


def test_a_swapped_frame_is_overtaken_by_the_next() -> None:
    out, lane = passed(Damage(swap=0.2))
    assert out != FRAMES
    assert sorted(out) == sorted(FRAMES)
    assert lane.damaged == lane.spoilt["swap"] > 20


def test_the_same_seed_does_the_same_damage_and_another_does_not() -> None:
    damage = Damage(drop=0.1, flip=0.1, duplicate=0.1, truncate=0.1, swap=0.1)
    assert passed(damage, seed=3)[0] == passed(damage, seed=3)[0]
    assert passed(damage, seed=3)[0] != passed(damage, seed=4)[0]


@given(st.lists(st.integers(1, 30), max_size=40))
def test_frames_are_whole_however_the_bytes_come_in(cuts: list[int]) -> None:
    async def through() -> list[bytes]:
        out: list[bytes] = []
        lane = Lane(StillClock(), random.Random(1), out.append)  # type: ignore[arg-type] # noqa: S311 - it asks for no gate
        stream = b"".join(FRAMES[:20])
        for cut in cuts:
            lane.feed(stream[:cut])
            stream = stream[cut:]
        lane.feed(stream)
        running_lane = asyncio.create_task(lane.run())
        await asyncio.sleep(0)
        running_lane.cancel()
        await asyncio.wait((running_lane,))
        return out

    assert asyncio.run(through()) == FRAMES[:20]


@contextlib.asynccontextmanager
async def cabled(clock: PacedClock, seed: int = 1) -> AsyncIterator[tuple[SerialBoard, LineProxy, Host]]:
    """A host, a cable and a board, all running."""
    serial = kettle(clock)
    async with running(serial):
        proxy = LineProxy(clock, serial.port, seed=seed)
        task = asyncio.create_task(proxy.run(), name="cable")
        await asyncio.sleep(0)
        host = Host(clock, proxy.port)
        try:
            yield serial, proxy, host
        finally:
            host.end.close()
            task.cancel()
            await asyncio.wait((task,))


def test_a_sound_cable_is_not_noticed() -> None:
    async def day(clock: PacedClock) -> None:
        async with cabled(clock) as (_, proxy, host):
            await host.claim()
            await host.heat(30)
            assert host.kinds()["A"] == 32
            assert host.garbled == 0
            assert proxy.to_board.damaged == proxy.to_host.damaged == 0

    run_paced(day)


def test_accelerated_time_runs_on_whatever_the_cable_does() -> None:
    worst = Damage(drop=0.2, truncate=0.2, flip=0.2, duplicate=0.2, swap=0.2, most_delay_s=2.0)

    async def day(clock: PacedClock) -> None:
        async with cabled(clock) as (serial, proxy, host):
            await host.claim()
            proxy.to_board.damage = proxy.to_host.damage = worst
            await host.heat(600)
            assert clock.now_s() > 600.0
            assert proxy.to_host.damaged > 300
            assert proxy.to_board.damaged > 200
            assert host.garbled > 0
            assert int(host.newest("T").values["n"]) > 0
            await host.wait(10.0)
            assert not serial.board.outputs.pins.is_on(Pin.HEATER)

    run_paced(day)


def test_a_delay_is_a_delay_and_keeps_the_order() -> None:
    async def day(clock: PacedClock) -> None:
        async with cabled(clock) as (_, proxy, host):
            await host.wait(2.0)
            proxy.to_host.damage = Damage(least_delay_s=1.0, most_delay_s=3.0)
            await host.wait(30.0)
            told = [(at_s, int(frame.values["up"])) for at_s, frame in host.heard if frame.kind == "T"]
            late = [at_s - up_ms / 1000 for at_s, up_ms in told if up_ms > 2500]
            assert min(late) >= 1.0
            assert [up_ms for _, up_ms in told] == sorted(up_ms for _, up_ms in told)

    run_paced(day)


def test_what_was_held_for_a_minute_and_let_go_heats_nothing() -> None:
    async def day(clock: PacedClock) -> None:
        async with cabled(clock) as (serial, proxy, host):
            await host.claim()
            await host.heat(5)
            proxy.to_board.hold()
            await host.heat(60)
            assert not serial.board.outputs.pins.is_on(Pin.HEATER)
            before_j = serial.world.truth().electric_j
            proxy.to_board.release()
            await host.wait(10.0)
            assert host.kinds()["Nlapsed"] > 50
            assert serial.world.truth().electric_j == pytest.approx(before_j)

    run_paced(day)


def test_somebody_else_on_the_wire_is_heard_by_the_board() -> None:
    async def day(clock: PacedClock) -> None:
        async with cabled(clock) as (serial, proxy, host):
            await host.claim()
            await host.heat(5)
            proxy.to_board.inject(sealed("1 X"))
            await host.wait(0.1)
            assert not serial.board.outputs.pins.is_on(Pin.HEATER)

    run_paced(day)
