"""What a brewer reads of a snapshot: short, plain, and right about what comes next."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.documents.amounts import duration, weight
from kettlebridge.documents.calls import asked, drained_kg
from kettlebridge.documents.events import line
from kettlebridge.documents.misfits import misfit
from kettlebridge.documents.sentences import leading, standing
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import StepKind
from kettlebridge.model.reading import BoardStanding
from kettlebridge.model.snapshot import ArmingView
from tests.documents.builders import call, plan, snapshot


def test_the_sentence_leads_with_step_temperature_time_left_and_what_is_next() -> None:
    assert leading(snapshot(), plan()) == "Sugar rest: resting, 66.4 °C, 22 min left; next: Lift."


def test_without_a_plan_the_sentence_ends_sooner() -> None:
    assert leading(snapshot()) == "Sugar rest: resting, 66.4 °C, 22 min left."


def test_the_last_step_says_so() -> None:
    last = snapshot(index=len(plan().profile.steps) - 1, name="Boil", kind=StepKind.BOIL, stage="climb")
    assert leading(last, plan()).endswith("next: nothing, it is the last step.")


def test_a_paused_batch_never_reads_as_held_and_says_why() -> None:
    paused = replace(snapshot(), state=BatchState.HELD, hold_cause="stale")
    words = " ".join((leading(paused, plan()), *standing(paused)))
    assert words.startswith("Paused, heat off, in Sugar rest, 66.4 °C")
    assert "has not been heard" in words
    assert "held" not in words.lower()


def test_a_pause_that_a_person_asked_for_names_them() -> None:
    assert "Asked for by: anna." in standing(replace(snapshot(), state=BatchState.HELD, hold_cause="anna"))


def test_what_boiled_and_does_not_now_is_coming_back_to_the_boil_and_may_foam_again() -> None:
    boil = replace(snapshot(index=2, name="Boil", kind=StepKind.BOIL, stage="boil"), temperature_c=76.7)
    assert boil.step is not None
    fallen = replace(boil, step=replace(boil.step, coming_back=True, remaining_s=480.0))
    assert leading(fallen) == "Boil: coming back to the boil, 76.7 °C, then 8 min more."
    assert [words for words in standing(fallen) if "foam again" in words]
    assert "boiling" in leading(boil)
    assert standing(boil) == ()


def test_a_kettle_that_is_not_armed_says_so_in_its_first_words() -> None:
    waits = replace(snapshot(name="Strike water", kind=StepKind.HEAT, stage="wait"))
    assert waits.step is not None
    waits = replace(waits, step=replace(waits.step, remaining_s=None))
    for phase, words in {
        "not_armed": "not armed, it stays cold until you are there",
        "armed": "waiting until it is",
    }.items():
        seen = replace(waits, arming=ArmingView(phase=phase, reason=None, ready_at_utc_s=1_800_007_200.0))
        assert leading(seen).startswith(f"Strike water: {words}")


def test_no_temperature_is_said_as_such() -> None:
    assert "no temperature" in leading(replace(snapshot(), temperature_c=None))


def test_a_silent_board_and_a_gap_in_the_record_are_said() -> None:
    said = " ".join(standing(replace(snapshot(), linked=False, recorded=False)))
    assert "board does not answer" in said
    assert "record cannot be written" in said


def test_each_board_that_is_away_is_named_with_what_is_wrong_and_how_to_mend_it() -> None:
    boards = (
        BoardStanding(name="bridge", linked=True),
        BoardStanding(name="rail", linked=False, trouble=LinkReason.NO_PORT, detail="/dev/ttyUSB0 is not there"),
        BoardStanding(name="shed", linked=False),
    )
    rail, shed = standing(replace(snapshot(), boards=boards))
    assert rail.startswith(
        "Board rail: The board's port cannot be used. (/dev/ttyUSB0 is not there) See that the board is"
    )
    assert shed == "Board shed: not asked yet."


def test_a_session_that_was_lost_says_why() -> None:
    detail = 'relay.heater: its node says "offline" on heater/lwt'
    lost = BoardStanding(name="", linked=False, trouble=LinkReason.NODE_AWAY, detail=detail)
    said = standing(replace(snapshot(), linked=False, boards=(lost,)))
    assert f"A node does not answer over MQTT. ({detail}) Look at its power" in said[-1]


def test_a_lift_says_how_heavy_it_is() -> None:
    """1.9 kg of grain keep 1.9 x 0.7 L of water; with a basket of 0.8 kg that makes 4.03 kg."""
    assert drained_kg(plan()) == pytest.approx(0.8 + 1.9 + 1.9 * 0.7)
    words = asked(call(kind="ask", subject="lift", at_kettle=True), plan())
    assert "4.0 kg" in words.do
    assert "two people or a hoist" in words.caution


def test_a_fill_says_the_litres_and_an_addition_its_weight() -> None:
    assert "7.0 L" in asked(call(kind="ask", subject="fill", litres=7.0)).do
    assert asked(call(kind="addition", subject="Wrenlow leaf", kg=0.011)).do == "Put in Wrenlow leaf, 11 g."


def test_the_profile_s_own_words_come_along() -> None:
    assert asked(call(kind="ask", subject="other", text="Iodine test.")).text == "Iodine test."


@pytest.mark.parametrize("kind", ["stand_by", "hoses", "dissolved", "hands_clear"])
def test_where_hands_are_in_danger_there_is_a_caution(kind: str) -> None:
    assert asked(call(kind=kind, subject="Sugar", at_kettle=True)).caution


def test_a_name_with_braces_is_shown_as_it_is() -> None:
    assert "{amount}" in asked(call(kind="addition", subject="{amount}")).do


@pytest.mark.parametrize(
    ("planned_min", "made_min", "words"),
    [(60.0, 59.4, "36 s late"), (15.0, 14.9, "on time"), (5.0, 7.0, "2 min early")],
)
def test_an_addition_says_how_far_from_its_time_it_was(planned_min: float, made_min: float, words: str) -> None:
    made = Event(
        code=EventCode.ADDITION_MADE,
        values=(("addition", "Hops"), ("planned_before_end_min", planned_min), ("made_before_end_min", made_min)),
    )
    assert (line(made, snapshot(), plan()) or "").endswith(f"{words}.")


@pytest.mark.parametrize(
    ("ago_s", "words"),
    [(150.0, "It boils, at 99.8 °C; it began 2 min ago."), (0.0, "It boils, at 99.8 °C.")],
)
def test_a_boil_is_told_with_when_it_began(ago_s: float, words: str) -> None:
    found = Event(code=EventCode.BOIL_FOUND, values=(("boil_c", 99.8), ("began_s_ago", ago_s)))
    assert line(found, snapshot(), plan()) == words


def test_a_trip_is_told_once_although_it_is_an_alarm_too() -> None:
    tripped = replace(
        snapshot(),
        state=BatchState.HOLDING,
        hold_cause="over_limit",
        alarms=(AlarmRecord(cause="over_limit", state=AlarmState.UNACKNOWLEDGED, safety=True, since_s=1.0),),
    )
    trip = Event(code=EventCode.TRIP, values=(("rule", "over_limit"),))
    raised = Event(code=EventCode.ALARM_RAISED, values=(("alarm", "over_limit"), ("safety", True)))
    assert "above this kettle's limit" in (line(trip, tripped, plan()) or "")
    assert line(raised, tripped, plan()) is None
    assert line(raised, snapshot(), plan()) is not None


def test_a_misfit_says_the_litres() -> None:
    words = misfit("too_much", (("index", 0), ("step", "Fill"), ("litres", 16.5), ("capacity_l", 12.0)))
    assert words == "Fill: 16.5 L would be in the kettle, which holds 12.0 L to the brim"


@pytest.mark.parametrize(
    ("time_s", "words"), [(0.4, "0 s"), (59.0, "59 s"), (1320.0, "22 min"), (3600.0, "1 h"), (3900.0, "1 h 5 min")]
)
def test_a_duration_reads_as_people_say_it(time_s: float, words: str) -> None:
    assert duration(time_s) == words


@pytest.mark.parametrize(("mass_kg", "words"), [(0.0012, "1.2 g"), (0.011, "11 g"), (1.9, "1.9 kg")])
def test_a_weight_has_no_more_digits_than_mean_something(mass_kg: float, words: str) -> None:
    assert weight(mass_kg) == words
