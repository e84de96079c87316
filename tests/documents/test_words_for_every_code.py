"""No code reaches a person without words: each list of codes is read from the code that makes them."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import kettlebridge.core.arming_commands
import kettlebridge.core.arming_phases
import kettlebridge.core.commands
import kettlebridge.core.measured
import kettlebridge.core.probes
import kettlebridge.core.validation
import kettlebridge.runtime
from kettlebridge.core.alarms import AlarmCause
from kettlebridge.core.arming_state import AS_REQUESTED
from kettlebridge.core.calls import CallKind
from kettlebridge.core.identify import Verdict
from kettlebridge.core.interlocks import INTERLOCKS
from kettlebridge.core.sequencer import STAGES
from kettlebridge.documents.calls import ASK, ASK_WORDS, CALL_WORDS
from kettlebridge.documents.events import ALARM_STATE_WORDS, UNFIT_WORDS, WORDS
from kettlebridge.documents.misfits import MISFIT_WORDS
from kettlebridge.documents.refusals import REFUSAL_WORDS, refused
from kettlebridge.documents.stages import STAGE_WORDS
from kettlebridge.documents.states import STATE_WORDS
from kettlebridge.documents.troubles import ALARM_WORDS, CAUSE_WORDS, LINK_WORDS, OVER_WORDS, PROBE_WORDS, TRIP_WORDS
from kettlebridge.files.unattended import BARS
from kettlebridge.model.alarm import AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.errors import LinkReason
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import NOT_JUDGED, AskKind
from kettlebridge.model.reading import ReadingFault
from kettlebridge.runtime.loop import TICK_FAILED

HANDLERS_IN = (
    kettlebridge.core.commands,
    kettlebridge.core.measured,
    kettlebridge.core.arming_commands,
    kettlebridge.core.arming_phases,
)
RUNTIME = Path(kettlebridge.runtime.__file__ or "").parent


def tree(path: str | None) -> ast.Module:
    return ast.parse(Path(path or "").read_text(encoding="utf-8"))


def text(node: ast.AST | None) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value


def reasons_of_the_core() -> set[str]:
    """What the handlers of commands return as text, and the second half of the pairs that they choose from."""
    found: set[str] = set()
    for node in (node for module in HANDLERS_IN for node in ast.walk(tree(module.__file__))):
        if isinstance(node, ast.keyword) and node.arg == "late":
            found.update(text(node.value))
        if isinstance(node, ast.Return):
            halves = [node.value.body, node.value.orelse] if isinstance(node.value, ast.IfExp) else [node.value]
            found.update(reason for half in halves for reason in text(half))
        if isinstance(node, ast.Tuple) and len(node.elts) == 2 and not list(text(node.elts[0])):
            found.update(text(node.elts[1]))
    return found


def reasons_of_the_runtime() -> set[str]:
    """Every refused=..., and the defaults of looking a verdict up."""
    found: set[str] = set()
    for path in RUNTIME.glob("*.py"):
        for node in ast.walk(tree(str(path))):
            if not isinstance(node, ast.Call):
                continue
            found.update(reason for key in node.keywords if key.arg == "refused" for reason in text(key.value))
            if isinstance(node.func, ast.Attribute) and node.func.attr == "refuse":
                found.update(text(node.args[0]))
            if isinstance(node.func, ast.Attribute) and ast.unparse(node.func) == "outcomes.get":
                found.update(text(node.args[1]))
    return found


def faults_of_the_core() -> set[str]:
    found: set[str] = set()
    for node in ast.walk(tree(kettlebridge.core.probes.__file__)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "_bad":
            found.update(word for part in ast.walk(node.args[-1]) for word in text(part))
        if isinstance(node, ast.keyword) and node.arg == "fault":
            found.update(word for part in ast.walk(node.value) for word in text(part))
    return found


def misfit_codes() -> set[str]:
    calls = (node for node in ast.walk(tree(kettlebridge.core.validation.__file__)) if isinstance(node, ast.keyword))
    return {code for keyword in calls if keyword.arg == "code" for code in text(keyword.value)}


def test_every_state_has_words() -> None:
    assert set(STATE_WORDS) == set(BatchState)


def test_no_words_for_a_state_say_held() -> None:
    assert [words for words in STATE_WORDS.values() if "held" in f"{words.name} {words.meaning}".lower()] == []


def test_every_stage_has_words() -> None:
    assert set(STAGE_WORDS) == {(kind, stage.name) for kind, stages in STAGES.items() for stage in stages}


def test_every_call_and_every_ask_has_words() -> None:
    assert set(CALL_WORDS) | {ASK} == {kind.value for kind in CallKind}
    assert set(ASK_WORDS) == set(AskKind)


def test_every_trip_has_words() -> None:
    assert set(TRIP_WORDS) == {row.code for row in INTERLOCKS if row.trips}


def test_every_alarm_that_ends_by_itself_has_words_for_what_was() -> None:
    """Those of interlocks, and a stop of all heat, latch until somebody at the kettle goes on."""
    assert set(OVER_WORDS) == {cause.value for cause in AlarmCause} - {AlarmCause.HEAT_STOPPED.value}


def test_every_alarm_has_words() -> None:
    assert set(ALARM_WORDS) == set(TRIP_WORDS) | {cause.value for cause in AlarmCause}
    assert set(ALARM_STATE_WORDS) == set(AlarmState)


def test_every_event_has_words() -> None:
    assert set(WORDS) == set(EventCode)


def test_every_verdict_on_a_heat_up_has_words() -> None:
    assert set(UNFIT_WORDS) == {verdict.value for verdict in Verdict} - {Verdict.FITS.value}


def test_the_causes_of_a_pause_that_are_no_person_have_words() -> None:
    assert {"resumed", "away", TICK_FAILED} | set(TRIP_WORDS) == set(CAUSE_WORDS)


def test_every_link_reason_has_words() -> None:
    assert set(LINK_WORDS) == {reason.value for reason in LinkReason}


def test_every_probe_fault_has_words() -> None:
    in_core = faults_of_the_core()
    assert {"out_of_range", "jump"} <= in_core
    assert set(PROBE_WORDS) == in_core | {fault.value for fault in ReadingFault}


def test_every_refusal_has_words() -> None:
    in_core, in_runtime = reasons_of_the_core(), reasons_of_the_runtime()
    assert {"at_kettle_only", "hands_in", "seen_too_long_ago"} <= in_core
    assert {"queue_full", "unanswered", "restarted"} <= in_runtime
    of_files = {NOT_JUDGED, *BARS}
    assert set(REFUSAL_WORDS) == (in_core | in_runtime | of_files | {AS_REQUESTED}) - {""}


@pytest.mark.parametrize("state", BatchState)
def test_a_command_refused_in_a_state_says_which(state: BatchState) -> None:
    assert STATE_WORDS[state].name.lower() in refused(f"not_in_{state.value.lower()}").why


@pytest.mark.parametrize("rule", [row.code for row in INTERLOCKS if row.trips])
def test_carrying_on_too_early_says_what_is_still_wrong(rule: str) -> None:
    assert TRIP_WORDS[rule].happened in refused(f"still_{rule}").why


def test_every_misfit_has_words() -> None:
    codes = misfit_codes()
    assert "too_much" in codes
    assert set(MISFIT_WORDS) == codes
