"""Each reason to refuse a demand by itself: what alone brings it, and that it is not there a hair before."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kettlesim.wire_serial.admission import REFUSALS, Demand, Standing, age_ms, keeps_latch, refusal
from kettlesim.wire_serial.fittings import Drive

ROUND = 2**32
HEAT = Demand(s=7, e=10_000, ttl=3000, h=350, p=1, k=1, z=0)
OFF = replace(HEAT, h=0, p=0, k=0)
STANDING = Standing(
    session=7,
    lapsed=False,
    up_ms=10_400,
    newest_e=9_500,
    longest_ttl_ms=5000,
    drive=Drive.SSR,
    input_latched=False,
    latch_told_ago_ms=None,
    input_active=False,
    contactor_on_for_ms=200,
    heat_without_contactor=False,
)


def why(demand: Demand = HEAT, **standing: Any) -> str | None:
    return refusal(demand, replace(STANDING, **standing))


def asked(**changes: int) -> str | None:
    return refusal(replace(HEAT, **changes), STANDING)


def test_a_demand_that_is_in_order_is_accepted() -> None:
    assert why() is None
    assert why(OFF) is None


@pytest.mark.parametrize(
    ("taken", "refused"),
    [
        ({"ttl": 200, "e": 10_300}, {"ttl": 199, "e": 10_300}),
        ({"ttl": 5000}, {"ttl": 5001}),
        ({"h": 1000}, {"h": 1001}),
        ({"p": 1}, {"p": 2}),
        ({"k": 1}, {"k": 2}),
        ({"z": 255}, {"z": 256}),
    ],
)
def test_a_value_is_taken_up_to_its_bound_and_not_beyond(taken: dict[str, int], refused: dict[str, int]) -> None:
    assert asked(**taken) is None
    assert asked(**refused) == "range"


@pytest.mark.parametrize(("h", "verdict"), [(0, None), (1, "range"), (500, "range"), (999, "range"), (1000, None)])
def test_a_contactor_is_off_or_on(h: int, verdict: str | None) -> None:
    assert why(replace(HEAT, h=h), drive=Drive.CONTACTOR) == verdict


def test_nobody_is_obeyed_but_who_holds_the_session() -> None:
    assert why(session=8) == "session"
    assert why(session=6) == "session"
    assert why(replace(HEAT, s=0), session=0) == "session"
    assert why(lapsed=True) == "lapsed"


class TestAStaleDemand:
    """Acts on a time that is too long ago, or older than one that was obeyed already."""

    def test_has_outlived_its_lease_on_the_way(self) -> None:
        assert why(up_ms=12_999) is None
        assert why(up_ms=13_000) == "stale"
        assert why(up_ms=60_000) == "stale"

    def test_may_come_from_the_future(self) -> None:
        assert why(up_ms=9_999) == "stale"
        assert why(up_ms=10_000) is None

    def test_is_older_than_the_newest_that_was_obeyed(self) -> None:
        assert why(newest_e=10_001) == "stale"
        assert why(newest_e=10_000) is None
        assert why(newest_e=None) is None

    def test_is_told_across_the_wrap_of_the_boards_clock(self) -> None:
        wrapped = replace(HEAT, e=ROUND - 100)
        assert why(wrapped, up_ms=300, newest_e=ROUND - 600) is None
        assert why(wrapped, up_ms=300, newest_e=100) == "stale"
        assert why(replace(HEAT, e=100), up_ms=300, newest_e=ROUND - 100) is None
        assert age_ms(wrapped, 300) == 400
        assert age_ms(HEAT, 9_999) == ROUND - 1

    def test_half_a_round_lies_ahead_and_half_behind(self) -> None:
        assert why(newest_e=(10_000 - ROUND // 2 + 1) % ROUND) is None
        assert why(newest_e=(10_000 - ROUND // 2) % ROUND) == "stale"


class TestAnInput:
    """That latches, such as foam or stop."""

    @pytest.mark.parametrize(("h", "k"), [(1, 0), (0, 1), (350, 1)])
    def test_allows_neither_heat_nor_contactor_while_it_is_on(self, h: int, k: int) -> None:
        assert why(replace(HEAT, h=h, k=k), input_active=True, input_latched=True) == "input"
        assert why(replace(HEAT, h=h, k=k), input_active=True) == "input"

    def test_leaves_the_pump(self) -> None:
        assert why(replace(OFF, p=1), input_active=True, input_latched=True) is None

    @pytest.mark.parametrize("told_ago_ms", [None, 399])
    def test_that_has_gone_holds_whoever_has_not_heard_of_it(self, told_ago_ms: int | None) -> None:
        for h, k, answer in ((0, 0, None), (1, 0, "input"), (0, 1, "input"), (350, 1, "input")):
            asked = replace(HEAT, h=h, k=k)
            assert why(asked, input_latched=True, latch_told_ago_ms=told_ago_ms) == answer
            assert keeps_latch(asked, replace(STANDING, input_latched=True, latch_told_ago_ms=told_ago_ms))

    def test_that_has_gone_lets_whoever_heard_of_it_close_the_contactor_and_not_heat_yet(self) -> None:
        heard = replace(STANDING, input_latched=True, latch_told_ago_ms=400)
        assert refusal(replace(HEAT, h=0), heard) is None
        assert refusal(replace(HEAT, h=1), heard) == "input"
        assert not keeps_latch(replace(HEAT, h=0), heard)
        assert keeps_latch(replace(HEAT, h=1), heard)


class TestTheOrder:
    """First the main contactor, 200 ms later the heater."""

    def test_lets_heat_follow_the_contactor_after_200_ms(self) -> None:
        assert why(contactor_on_for_ms=200) is None
        assert why(contactor_on_for_ms=199) == "order"
        assert why(contactor_on_for_ms=90_000) is None
        assert why(replace(HEAT, h=1), contactor_on_for_ms=0) == "order"

    def test_lets_a_heater_be_tested_alone_and_closes_no_contactor_behind_it(self) -> None:
        assert why(replace(HEAT, k=0), contactor_on_for_ms=0, heat_without_contactor=True) is None
        assert why(replace(HEAT, h=0), heat_without_contactor=True) == "order"
        assert why(OFF, heat_without_contactor=True) is None


def test_the_first_reason_of_the_list_is_the_one_that_is_told() -> None:
    """As the page of the protocol has them."""
    assert [name for name, _ in REFUSALS] == ["lapsed", "session", "range", "stale", "input", "order"]
    worst = replace(HEAT, s=8, ttl=9, e=0)
    bad = {"input_active": True, "contactor_on_for_ms": 0}
    assert why(worst, lapsed=True, **bad) == "lapsed"
    assert why(worst, **bad) == "session"
    assert why(replace(worst, s=7), **bad) == "range"
    assert why(replace(worst, s=7, ttl=3000), **bad) == "stale"
    assert why(HEAT, **bad) == "input"
    assert why(HEAT, contactor_on_for_ms=0) == "order"
