"""What lies ahead in words: until when the brewer is free, and about when each step begins."""

from __future__ import annotations

from kettlebridge.documents.amounts import duration
from kettlebridge.documents.arming import by_itself, stays_cold
from kettlebridge.documents.trace_svg import Coming
from kettlebridge.model.forecast import Need, When
from kettlebridge.model.plan import Plan
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.units import S_PER_MIN
from kettlebridge.ports import LocalTime

HANDS_SOON_S = 90.0
"""Less than this is no time to go away."""
BAND_S = 120.0
"""A band narrower than this is not worth saying."""

NEED_WORDS: dict[str, str] = {
    "hands_clear": "a word that hands are clear",
    "present": "your word that you are there",
    "stand_by": "the first boil",
    "boiling": "a look whether it boils",
    "hoses": "clamping the hoses",
    "dissolved": "stirring until it is dissolved",
    "rest_below": "a rest that is too cold",
    "cool": "turning on the cooling water",
    "chiller_on": "turning on the cooling water",
    "chilled": "turning off the cooling water",
    "transferred": "the transfer",
    "sparge_water": "putting on the sparge water",
    "evening_list": "the evening's list",
    "test_call": "answering the test call",
    "cold": "your word that you are there",
}
"""By a call's kind; an ask is called by its step's name, an addition by its own."""


def need_words(need: Need, plan: Plan | None) -> str:
    """What somebody is needed for."""
    if need.kind in NEED_WORDS:
        return NEED_WORDS[need.kind]
    if need.kind == "ask" and plan is not None:
        return plan.profile.steps[need.index].name
    return need.subject.replace("_", " ")


def free_until(snapshot: Snapshot, plan: Plan | None, time: LocalTime) -> str:
    """Whether it heats by itself, when the brewer is needed and for how long; empty where neither can be said."""
    return " ".join(part for part in (by_itself(snapshot, time), _needed(snapshot, plan, time)) if part)


def _needed(snapshot: Snapshot, plan: Plan | None, time: LocalTime) -> str:
    foreseen = snapshot.forecast
    if foreseen is None or foreseen.next_spell is None or (stays_cold(snapshot) and not snapshot.calls):
        return ""
    spell = foreseen.next_spell
    in_s, hands = spell.begins.at_s - snapshot.now_s, _hands(spell.lasts_s)
    if snapshot.calls or in_s <= 0.0:
        return f"You are needed now, for {hands}."
    what = need_words(spell.need, plan)
    if in_s < HANDS_SOON_S:
        return f"You are needed in a moment, for {hands}: {what}."
    return f"You are free until {_about(spell.begins, snapshot, time)}, then {hands} with both hands: {what}."


def begins_about(snapshot: Snapshot, time: LocalTime) -> dict[int, str]:
    """By a step's place, about when it begins; only steps to come, and none while the day stays cold."""
    if snapshot.forecast is None or snapshot.step is None or stays_cold(snapshot):
        return {}
    zero_utc_s, here = snapshot.at_utc_s - snapshot.now_s, snapshot.step.index
    return {
        step.index: f"about {time.hh_mm(zero_utc_s + step.begins.at_s)}"
        for step in snapshot.forecast.steps
        if step.index > here
    }


def coming(snapshot: Snapshot, plan: Plan) -> tuple[Coming, ...]:
    """What is ahead, for the picture of the day."""
    if snapshot.forecast is None or snapshot.step is None or stays_cold(snapshot):
        return ()
    steps, here = plan.profile.steps, snapshot.step.index
    return tuple(
        Coming(
            name=steps[step.index].name,
            early_s=step.begins.early_s,
            at_s=step.begins.at_s,
            late_s=step.begins.late_s,
        )
        for step in snapshot.forecast.steps
        if step.index > here
    )


def _about(when: When, snapshot: Snapshot, time: LocalTime) -> str:
    """A time, and between which it is in eight of ten where that is worth saying."""
    zero_utc_s = snapshot.at_utc_s - snapshot.now_s
    middle = f"about {time.hh_mm(zero_utc_s + when.at_s)}"
    if when.late_s - when.early_s < BAND_S:
        return middle
    early, late = (time.hh_mm(zero_utc_s + max(at_s, snapshot.now_s)) for at_s in (when.early_s, when.late_s))
    return f"{middle} ({early} to {late})"


def _hands(lasts_s: float) -> str:
    """Whole minutes: hands do not know seconds."""
    return duration(max(round(lasts_s / S_PER_MIN), 1) * S_PER_MIN)
