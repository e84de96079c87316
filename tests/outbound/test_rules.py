"""Which alarms and calls become notifications: quiet hours never silence safety."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.documents.calls import CALL_WORDS
from kettlebridge.documents.troubles import ALARM_WORDS
from kettlebridge.files.local_time import zone_time
from kettlebridge.model.alarm import AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.outbound.rules import DEFAULT_RULES, About, Quiet, Rule, Rules
from tests.outbound.views import HOSES, LINK, OVER, VIEW, view

UTC = zone_time("UTC")
ALWAYS_QUIET = Quiet(since="00:00", until="23:59")


def rules(*own: Rule, quiet: Quiet | None = None) -> Rules:
    return Rules(own or DEFAULT_RULES, quiet, UTC)


def titles(made: Rules, **changes: object) -> list[str]:
    return [notice.title for notice in made.look(view(**changes))]


def test_a_kettle_with_nothing_chosen_is_named_alone() -> None:
    (title,) = titles(rules(), profile="", alarms=(LINK,), now_s=100.0)
    assert title.startswith(f"{view().kettle}: ")


def test_nothing_that_needs_nobody_is_told() -> None:
    assert titles(rules()) == []


def test_alarm_is_told_once_and_again_until_it_is_acknowledged() -> None:
    made = rules()
    assert len(titles(made, alarms=(LINK,), now_s=100.0)) == 1
    assert titles(made, alarms=(LINK,), now_s=399.0) == []
    assert len(titles(made, alarms=(LINK,), now_s=400.0)) == 1
    acknowledged = replace(LINK, state=AlarmState.ACKNOWLEDGED)
    assert titles(made, alarms=(acknowledged,), now_s=900.0) == []


def test_the_same_cause_again_is_told_again() -> None:
    made = rules(Rule(about=About.ALARM))
    assert len(titles(made, alarms=(LINK,), now_s=100.0)) == 1
    assert titles(made, now_s=200.0) == []
    assert len(titles(made, alarms=(replace(LINK, since_s=300.0),), now_s=300.0)) == 1


def test_call_says_what_to_do_and_what_to_beware_of() -> None:
    (notice,) = rules().look(view(calls=(HOSES,)))
    assert notice.title == "thimble (Quillet bitter): at the kettle"
    assert CALL_WORDS["hoses"].do in notice.text
    assert CALL_WORDS["hoses"].caution in notice.text
    assert not notice.urgent


def test_call_that_is_only_announced_is_not_told() -> None:
    assert titles(rules(), calls=(replace(HOSES, raised_s=None),)) == []


def test_end_of_a_day_is_told_once() -> None:
    made = rules()
    assert len(titles(made, state=BatchState.COMPLETE, now_s=100.0)) == 1
    assert titles(made, state=BatchState.COMPLETE, now_s=9000.0) == []


def test_quiet_hours_hold_back_what_can_wait_and_tell_it_afterwards() -> None:
    made = rules(quiet=Quiet(since="22:00", until="07:00"))
    night_s, morning_s = 1_800_000_000.0 - 3600 * 6.0, 1_800_000_000.0
    assert (UTC.hh_mm(night_s), UTC.hh_mm(morning_s)) == ("02:00", "08:00")
    assert titles(made, calls=(HOSES,), at_utc_s=night_s) == []
    assert len(titles(made, calls=(HOSES,), at_utc_s=morning_s)) == 1


@pytest.mark.parametrize(
    "own",
    [
        (),
        (Rule(about=About.ALARM, send=False),),
        (Rule(about=About.CALL),),
        (Rule(about=About.ALARM, repeat_s=7200.0),),
    ],
    ids=["default", "silenced", "no rule", "rarely"],
)
def test_safety_alarm_is_told_in_quiet_hours_whatever_the_rules_and_again_every_five_minutes(
    own: tuple[Rule, ...],
) -> None:
    made = rules(*own, quiet=ALWAYS_QUIET)
    (notice,) = made.look(view(alarms=(OVER,), now_s=100.0))
    assert notice.urgent
    assert ALARM_WORDS["over_limit"].do in notice.text
    assert len(made.look(view(alarms=(OVER,), now_s=400.0))) == 1


def test_latched_safety_alarm_goes_on_until_it_is_acknowledged() -> None:
    made = rules()
    latched = replace(OVER, state=AlarmState.LATCHED_UNACKNOWLEDGED)
    assert len(titles(made, alarms=(latched,), now_s=100.0)) == 1
    assert len(titles(made, alarms=(latched,), now_s=400.0)) == 1
    assert titles(made, alarms=(replace(OVER, state=AlarmState.LATCHED_ACKNOWLEDGED),), now_s=800.0) == []


def test_first_rule_that_fits_decides() -> None:
    made = rules(Rule(about=About.CALL, codes=frozenset({"hoses"}), send=False), Rule(about=About.CALL))
    boiling = replace(HOSES, id="5.boiling.0", kind="boiling")
    assert len(titles(made, calls=(HOSES, boiling))) == 1


def test_every_alarm_and_call_has_words_for_a_notification() -> None:
    for cause in ALARM_WORDS:
        assert rules().look(view(alarms=(replace(LINK, cause=cause),)))
    for kind in CALL_WORDS:
        assert rules().look(view(calls=(replace(HOSES, kind=kind),)))


def test_memory_is_bounded() -> None:
    made = rules()
    for number in range(2000):
        made.look(view(alarms=(replace(LINK, since_s=float(number)),), now_s=VIEW.now_s + number))
    assert len(made._sent_s) <= 512
