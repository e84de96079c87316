"""Until when the brewer is free, in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.core.calls import CallKind
from kettlebridge.documents.ahead import NEED_WORDS, begins_about, free_until, need_words
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.forecast import Need, When
from tests.documents.builders import call, foreseen, plan, snapshot

UTC = zone_time("UTC")


@pytest.mark.parametrize(
    ("in_s", "spread_s", "sentence"),
    [
        (1320.0, 0.0, "You are free until about 08:23, then 8 min with both hands: Lift."),
        (1320.0, 180.0, "You are free until about 08:23 (08:19 to 08:27), then 8 min with both hands: Lift."),
        (1320.0, 4000.0, "You are free until about 08:23 (08:01 to 09:49), then 8 min with both hands: Lift."),
        (60.0, 30.0, "You are needed in a moment, for 8 min: Lift."),
        (0.0, 0.0, "You are needed now, for 8 min."),
    ],
)
def test_the_sentence_says_until_when_and_for_how_long(in_s: float, spread_s: float, sentence: str) -> None:
    seen = replace(snapshot(), forecast=foreseen(in_s=in_s, spread_s=spread_s))
    assert free_until(seen, plan(), UTC) == sentence


def test_an_open_call_is_now_whatever_was_foreseen() -> None:
    seen = replace(snapshot(), calls=(call(kind="hands_clear"),))
    assert free_until(seen, plan(), UTC) == "You are needed now, for 8 min."


def test_without_a_forecast_or_a_need_nothing_is_said() -> None:
    assert free_until(replace(snapshot(), forecast=None), plan(), UTC) == ""
    no_more = replace(foreseen(), needs=(), next_spell=None)
    assert free_until(replace(snapshot(), forecast=no_more), plan(), UTC) == ""
    assert begins_about(replace(snapshot(), forecast=None), UTC) == {}


def test_steps_to_come_have_a_time_and_the_one_in_hand_has_none() -> None:
    assert begins_about(snapshot(), UTC) == {1: "about 08:23", 2: "about 08:31"}


def test_every_kind_of_call_has_words_as_a_need() -> None:
    for kind in CallKind:
        assert kind.value in NEED_WORDS or kind in {CallKind.ASK, CallKind.ADDITION}
    when = When(at_s=0.0, spread_s=0.0)
    leaf = Need(index=2, kind="addition", subject="Wrenlow leaf", begins=when, hands_s=30.0)
    assert need_words(leaf, None) == "Wrenlow leaf"
    assert need_words(replace(leaf, kind="ask", subject="basket_away"), None) == "basket away"
