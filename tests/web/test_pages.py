"""What a page says, and what its forms do, with a script and without one."""

from __future__ import annotations

import asyncio
import gzip
import json
import re
from contextlib import AsyncExitStack
from dataclasses import replace
from html import unescape

import pytest

from kettlebridge.core.batch_states import TRANSITIONS
from kettlebridge.documents.troubles import ALARM_WORDS
from kettlebridge.model.alarm import AlarmRecord, AlarmState
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import CommandKind
from kettlebridge.model.snapshot import ArmingView
from kettlebridge.web.offers import CALLS_WAIT, FIRST, FORMS, FURTHER, MEASURES
from kettlebridge.web.pictures import PARTS
from kettlebridge.web.stream import SPREAD_S
from tests.documents.builders import call
from tests.web.rooms import CODE, SADDLE, THIMBLE, Answered, House, house, seen

TELL = "/kettles/thimble/tell"
FIRST_LOAD_BYTES = 100 * 1024


def heard(chunk: bytes) -> tuple[int, dict[str, str]]:
    """The tick of a message of the stream, and the parts that it brings."""
    (data,) = re.findall(rb"^data: (.+)$", chunk, re.MULTILINE)
    message = json.loads(data)
    return message["n"], message["parts"]


def kinds(the_house: House) -> list[CommandKind]:
    return [command.kind for _, command in the_house.commands.taken]


async def test_the_page_leads_with_a_sentence() -> None:
    text = (await house().get("/kettles/thimble")).text
    assert text.index("<h1>Sugar rest: resting, 66.4 °C, 22 min left; next: Lift.</h1>") < text.index("<form")
    assert "You are free until about 08:23, then 8 min with both hands: Lift." in text


async def test_what_is_noted_stands_on_every_page_and_comes_over_the_stream_when_it_changes() -> None:
    noted = ["A simulated kettle."]
    the_house = house(note=lambda: " ".join(noted))
    for page in ("/kettles/thimble", "/batches"):
        assert '<p class="note" role="note">A simulated kettle.</p>' in (await the_house.get(page)).text
    async with the_house.stream("/kettles/thimble/stream") as chunks:
        await chunks.get()
        noted.append("Mishap: a plug came out.")
        the_house.snapshots.publish(seen(101), ())
        while "note" not in (parts := heard(await chunks.get())[1]):
            pass
    assert parts["note"] == '<p class="note" role="note">A simulated kettle. Mishap: a plug came out.</p>'


async def test_why_it_is_paused_is_said_once_where_an_alarm_says_it() -> None:
    the_house = house()
    the_house.snapshots.publish(seen(101, state=BatchState.HELD, hold_cause="stale"), ())
    assert (await the_house.get("/kettles/thimble")).text.count("The control probe has not been heard.") == 1
    alarm = AlarmRecord(cause="stale", state=AlarmState.UNACKNOWLEDGED, safety=True, since_s=60.0)
    the_house.snapshots.publish(seen(102, state=BatchState.HELD, hold_cause="stale", alarms=(alarm,)), ())
    assert (await the_house.get("/kettles/thimble")).text.count("The control probe has not been heard.") == 1


async def test_a_day_that_is_over_leads_to_its_record_and_one_at_work_does_not() -> None:
    the_house = house()
    link = f'href="/batches/{seen().batch}/report"'
    assert link not in (await the_house.get("/kettles/thimble")).text
    the_house.snapshots.publish(seen(101, state=BatchState.COMPLETE, step=None), ())
    assert link in (await the_house.get("/kettles/thimble")).text


async def test_taking_an_arming_back_is_no_button_that_a_thumb_hits_by_itself() -> None:
    the_house = house()
    for n, (phase, look) in enumerate((("not_armed", "ahead big"), ("armed", "ahead")), start=101):
        arming = ArmingView(phase=phase, reason=None, ready_at_utc_s=1_800_007_200.0)
        the_house.snapshots.publish(seen(n, arming=arming), ())
        kind = "arm" if phase == "not_armed" else "disarm"
        assert f'<form id="tell-{kind}" class="{look}"' in (await the_house.get("/kettles/thimble")).text


async def test_no_line_ends_between_a_figure_and_its_unit() -> None:
    the_house = house()
    shown = (await the_house.get("/kettles/thimble")).body.decode()
    (sentence,) = re.findall("<h1>(.+)</h1>", shown)
    assert sentence == "Sugar rest: resting, 66.4\N{NO-BREAK SPACE}°C, 22\N{NO-BREAK SPACE}min left; next: Lift."
    assert not re.findall(r"\d °C", shown)


async def test_a_single_kettle_is_at_the_top_and_several_have_an_overview() -> None:
    assert (await house().get("/")).header("location") == "/kettles/thimble"
    text = (await house(kettles=(THIMBLE, SADDLE)).get("/")).text
    assert "2 kettles, and none of them wants you now." in text
    assert text.count("<section") == 2


async def test_a_call_is_asked_with_its_caution_and_answered_by_a_form() -> None:
    the_house = house()
    lift = call(kind="ask", subject="lift", at_kettle=True)
    the_house.snapshots.publish(seen(101, calls=(lift,)), ())
    text = (await the_house.get("/kettles/thimble")).text
    assert "Lift the basket, about" in text
    assert "<b>Mind:</b> It is heavy" in text
    assert "Yes: the basket hangs safely" in text
    form = {"do": "confirm", "call": lift.id, "seen_n": "101", "key": "0123456789ab", "code": CODE}
    answer = await the_house.post(TELL, form)
    assert answer.header("location") == "/kettles/thimble?answer=taken"
    ((_, command),) = the_house.commands.taken
    assert (command.kind, command.call, command.at_kettle, command.seen_n) == (CommandKind.CONFIRM, lift.id, True, 101)
    assert command.who == "page"
    assert "Taken." in (await the_house.get("/kettles/thimble?answer=taken")).text


async def test_a_comma_is_a_point_and_an_empty_field_is_none() -> None:
    the_house = house()
    await the_house.post(TELL, {"do": "adding-water", "litres": " 1,5 ", "code": ""})
    ((_, command),) = the_house.commands.taken
    assert command.litres == 1.5
    assert not command.at_kettle


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"do": "dance"},
        {"do": "extend", "minutes": "many"},
        {"do": "extend", "who": "me"},
        {"do": "retarget", "target_c": "nan"},
    ],
)
async def test_a_form_that_makes_no_sense_is_told_so_and_does_nothing(fields: dict[str, str]) -> None:
    the_house = house()
    assert (await the_house.post(TELL, fields)).header("location").endswith("answer=not_understood")
    assert the_house.commands.taken == []


async def test_what_the_kettle_refuses_comes_back_in_words() -> None:
    the_house = house()
    the_house.commands.refusal = "at_kettle_only"
    back = (await the_house.post(TELL, {"do": "carry-on"})).header("location")
    assert "This needs somebody at the kettle." in (await the_house.get(back)).text


async def test_words_of_a_link_made_elsewhere_do_not_get_onto_the_page() -> None:
    text = (await house().get("/kettles/thimble?answer=<b>Pull+the+plug")).text
    assert "Pull" not in text


OF_A_KETTLE = ("", "/next", "/next?recipe=Corvane+Pale", "/rescue", "/measured")
OF_NONE = ("/batches", "/nowhere", "/kettles/other")


def stop_forms(answer: Answered) -> list[tuple[str, str]]:
    """Where the forms that stop all heat go, and what their buttons say."""
    found = re.findall(
        r'<form class="stop" method="post" action="([^"]+)".*?<button type="submit">([^<]+)<', answer.text, re.S
    )
    return [(action, words) for action, words in found]


async def test_stop_all_heat_is_on_every_page_for_the_kettle_that_it_is_about() -> None:
    several, one = house(kettles=(THIMBLE, SADDLE)), house()
    for path in OF_A_KETTLE:
        assert stop_forms(await several.get(f"/kettles/saddle{path}")) == [("/kettles/saddle/tell", "Stop all heat")], (
            path
        )
    for path in ("/", *OF_NONE):
        assert stop_forms(await several.get(path)) == [("/stop-all-heat", "Stop all heat on every kettle")], path
    for path in OF_NONE:
        assert stop_forms(await one.get(path)) == [("/kettles/thimble/tell", "Stop all heat")], path
    assert stop_forms(await house(speaks=False).get("/kettles/thimble")) == [("/kettles/thimble/tell", "Stop all heat")]


async def test_stop_all_heat_needs_nothing() -> None:
    the_house = house(kettles=(THIMBLE, SADDLE))
    await the_house.post(TELL, {"do": "stop-heat", "code": "wrong"})
    await the_house.post("/stop-all-heat", {})
    assert [(kettle, command.kind) for kettle, command in the_house.commands.taken] == [
        (THIMBLE, CommandKind.STOP_HEAT),
        (THIMBLE, CommandKind.STOP_HEAT),
        (SADDLE, CommandKind.STOP_HEAT),
    ]


async def test_alarms_are_told_in_words_and_can_be_acknowledged() -> None:
    the_house = house()
    alarm = AlarmRecord(cause="rest_hot", state=AlarmState.UNACKNOWLEDGED, safety=False, since_s=60.0)
    the_house.snapshots.publish(seen(101, alarms=(alarm,)), ())
    text = (await the_house.get("/kettles/thimble")).text
    assert "Alarm since 08:01" in text
    assert "The mash is more than a degree too warm." in text
    await the_house.post(TELL, {"do": "acknowledge", "alarm": "rest_hot"})
    assert the_house.commands.taken[0][1].alarm == "rest_hot"
    the_house.snapshots.publish(seen(102, alarms=(replace(alarm, state=AlarmState.ACKNOWLEDGED),)), ())
    assert "I have seen it" not in (await the_house.get("/kettles/thimble")).text


NOBODY = AlarmRecord(cause="unanswered", state=AlarmState.UNACKNOWLEDGED, safety=False, since_s=60.0)


async def test_a_call_that_nobody_answers_is_one_card_that_rings_until_it_is_seen() -> None:
    the_house = house()
    late = replace(call(kind="ask", subject="lift", at_kettle=True), overdue=True, raised_s=100.0 - 1800.0)
    timely = replace(call(kind="ask", subject="fill"), id="0.ask.1")
    the_house.snapshots.publish(seen(101, calls=(late, timely), alarms=(NOBODY,)), ())
    text = (await the_house.get("/kettles/thimble")).text
    assert text.count("<h2>Alarm") == text.count("I have seen it") == 1
    assert "<h2>Alarm, at the kettle: asked 30 min ago, unanswered</h2>" in text
    assert "<h2>For you, since 08:00</h2>" in text
    assert "You were asked for something" not in text
    seen_by_now = replace(NOBODY, state=AlarmState.ACKNOWLEDGED)
    the_house.snapshots.publish(seen(102, calls=(late,), alarms=(seen_by_now,)), ())
    text = (await the_house.get("/kettles/thimble")).text
    assert "<h2>For you, at the kettle: asked 30 min ago, unanswered</h2>" in text
    assert "I have seen it" not in text
    assert 'class="alarm' not in text


async def test_an_alarm_that_is_over_says_so_and_orders_nothing() -> None:
    the_house = house()
    over = replace(NOBODY, state=AlarmState.RETURNED_UNACKNOWLEDGED)
    the_house.snapshots.publish(seen(101, alarms=(over,)), ())
    text = (await the_house.get("/kettles/thimble")).text
    assert "<h2>Alarm at 08:01, over</h2>" in text
    assert "You were asked for something that nobody answered for a while." in text
    assert ALARM_WORDS["unanswered"].do not in text
    assert "I have seen it" in text


async def test_an_alarm_that_was_seen_is_one_line_with_the_rest_a_touch_away() -> None:
    the_house = house()
    stale = AlarmRecord(cause="stale", state=AlarmState.LATCHED_ACKNOWLEDGED, safety=True, since_s=60.0)
    the_house.snapshots.publish(seen(101, state=BatchState.HELD, hold_cause="stale", alarms=(stale,)), ())
    text = (await the_house.get("/kettles/thimble")).text
    assert "<summary>Alarm since 08:01, seen: The control probe has not been heard.</summary>" in text
    assert ALARM_WORDS["stale"].do in unescape(text)


async def test_the_way_on_comes_before_what_is_asked_where_a_day_stands_still() -> None:
    the_house = house()
    hop = call(kind="addition", subject="Quillet")
    for n, (state, button) in enumerate(
        {BatchState.HELD: "Carry on", BatchState.ABORTED: "Clear the stop"}.items(), start=101
    ):
        the_house.snapshots.publish(seen(n, state=state, calls=(hop,)), ())
        text = (await the_house.get("/kettles/thimble")).text
        assert text.index(f">{button}</button>") < text.index("Put in Quillet")


@pytest.mark.parametrize("state", list(BatchState))
async def test_a_call_has_a_button_where_the_core_takes_its_answer_and_says_why_it_waits_elsewhere(
    state: BatchState,
) -> None:
    the_house = house()
    the_house.snapshots.publish(seen(101, state=state, calls=(call(kind="addition", subject="Quillet"),)), ())
    text = (await the_house.get("/kettles/thimble")).text
    taken = CommandKind.CONFIRM in TRANSITIONS[state]
    assert ("Yes: it is in" in text) is taken
    assert (CALLS_WAIT.get(state, "no words") in text) is not taken


@pytest.mark.parametrize(
    ("phase", "button", "says"),
    [
        ("not_armed", "Arm", "Not armed: it will not heat for 10:00."),
        ("heater_alone", "Take the arming back", "Being armed: the heater&#39;s switch is on alone"),
        ("armed", "Take the arming back", "Armed: it heats by itself for 10:00."),
    ],
)
async def test_a_kettle_that_waits_for_its_time_says_whether_it_is_armed(phase: str, button: str, says: str) -> None:
    the_house = house()
    arming = ArmingView(phase=phase, reason=None, ready_at_utc_s=1_800_000_000.0 + 2 * 3600.0)
    the_house.snapshots.publish(seen(101, arming=arming, forecast=None), ())
    text = (await the_house.get("/kettles/thimble")).text
    assert says in text
    assert f">{button}</button>" in text
    await the_house.post(TELL, {"do": "arm"})
    assert the_house.commands.taken[0][1].kind is CommandKind.ARM


@pytest.mark.parametrize("state", list(BatchState))
async def test_the_page_offers_nothing_that_the_core_refuses_in_that_state(state: BatchState) -> None:
    offered = {*FIRST.get(state, ()), *FURTHER.get(state, ())}
    assert offered <= set(TRANSITIONS[state])
    the_house = house()
    the_house.snapshots.publish(seen(101, state=state), ())
    text = (await the_house.get("/kettles/thimble")).text
    for kind, form in FORMS.items():
        assert (f">{form.button}</button>" in text) is (kind in offered)


@pytest.mark.parametrize(
    ("fields", "read"),
    [
        ({"litres": "22,5", "at_c": ""}, {"litres": 22.5}),
        ({"gravity_sg": "1,048", "at_c": "20"}, {"gravity_sg": 1.048, "at_c": 20.0}),
        ({"brix": "12.1"}, {"brix": 12.1}),
    ],
)
async def test_what_was_measured_is_handed_on_as_read(fields: dict[str, str], read: dict[str, float]) -> None:
    the_house = house()
    await the_house.post(TELL, {"do": "measured", **fields})
    ((_, command),) = the_house.commands.taken
    given = {name: getattr(command, name) for name in ("litres", "gravity_sg", "brix", "at_c")}
    assert {name: value for name, value in given.items() if value is not None} == read


def test_a_measurement_may_be_told_in_every_state_and_each_form_is_told_from_the_others() -> None:
    assert all(CommandKind.MEASURED in row for row in TRANSITIONS.values())
    assert len({form.id for form in MEASURES}) == len(MEASURES)


async def test_wrong_codes_make_the_next_guess_wait_but_not_a_stop() -> None:
    the_house = house()
    carry_on = {"do": "carry-on", "code": "0000"}
    assert "wrong_code" in (await the_house.post(TELL, carry_on)).header("location")
    assert "code_later" in (await the_house.post(TELL, carry_on | {"code": CODE})).header("location")
    assert kinds(the_house) == []
    await the_house.post(TELL, {"do": "hold", "code": "0000"})
    assert kinds(the_house) == [CommandKind.HOLD]


async def test_in_hurried_time_a_view_of_a_moment_ago_counts_as_the_newest() -> None:
    slow, hurried = house(), house(hurried=True)
    for the_house in (slow, hurried):
        await the_house.get("/kettles/thimble")
        the_house.snapshots.publish(seen(400), ())
        await the_house.tell({"do": "extend", "minutes": 5, "seen_n": 100})
        await the_house.tell({"do": "extend", "minutes": 5, "seen_n": 7})
    assert [command.seen_n for _, command in slow.commands.taken] == [100, 7]
    assert [command.seen_n for _, command in hurried.commands.taken] == [400, 7]


async def test_a_kettle_that_has_not_spoken_says_so_and_an_unknown_one_is_none() -> None:
    assert "has not said anything yet" in (await house(speaks=False).get("/kettles/thimble")).text
    answer = await house().get("/kettles/other")
    assert answer.status == 404
    assert "no such kettle" in answer.text


async def test_where_nothing_is_found_it_is_said_in_plain_words_with_the_way_back() -> None:
    answer = await house().get("/nowhere")
    assert answer.status == 404
    assert "<h1>There is nothing at this address.</h1>" in answer.text
    assert '<a class="way" href="/">To the kettles</a>' in answer.text
    assert "<p></p>" not in answer.text
    assert "Not Found" not in answer.text + (await house().get("/api/nowhere")).text


async def test_the_first_load_is_small() -> None:
    the_house = house()
    html = (await the_house.get("/kettles/thimble")).text
    paths = {"/kettles/thimble", "/kettles/thimble/trace", *re.findall(r'(?:src|href)="(/static/[^"]+)"', html)}
    assert len(paths) == 7
    sizes = {path: len(gzip.compress((await the_house.get(path)).body)) for path in paths}
    assert sum(sizes.values()) <= FIRST_LOAD_BYTES, sizes
    zipped = await the_house.get("/static/page.js", **{"accept-encoding": "gzip"})
    assert zipped.header("content-encoding") == "gzip"


async def test_the_stream_brings_every_part_first_then_what_changed_and_ends_with_the_service() -> None:
    the_house = house()
    async with the_house.stream("/kettles/thimble/stream") as chunks:
        assert await chunks.get() == b"retry: 2000\n\n"
        _, first = heard(await chunks.get())
        assert {"now", "calls", "alarms", "day", "facts"} <= set(first)
        the_house.snapshots.publish(seen(101, temperature_c=67.0), ())
        n, then = heard(await chunks.get())
        assert n == 101
        assert set(then) == {"now"}
        the_house.stop.set()
        assert await chunks.get() == b""


@pytest.mark.parametrize("back", [False, True])
async def test_a_page_is_not_sent_what_it_already_shows_when_it_first_listens_or_comes_back(*, back: bool) -> None:
    the_house = house()
    (held,) = re.findall(r'data-held="([^"]+)"', (await the_house.get("/kettles/thimble")).text)
    the_house.snapshots.publish(seen(101, temperature_c=67.0), ())
    query, headers = ("?held=of.long.ago", {"last-event-id": held}) if back else (f"?held={held}", {})
    async with the_house.stream(f"/kettles/thimble/stream{query}", headers) as chunks:
        await chunks.get()
        chunk = await chunks.get()
        assert set(heard(chunk)[1]) == {"now"}
    after = re.findall(rb"^id: (.+)$", chunk, re.MULTILINE)
    assert re.findall(rb'data-held="([^"]+)"', (await the_house.get("/kettles/thimble")).body) == after
    assert after != [held.encode()]


async def test_a_crowd_is_told_one_after_the_other() -> None:
    the_house = house()
    heard_s: list[float] = []

    async def listens(chunks: asyncio.Queue[bytes]) -> None:
        while b"data: " not in await chunks.get():
            pass
        heard_s.append(asyncio.get_running_loop().time())

    async with AsyncExitStack() as stack:
        crowd = [await stack.enter_async_context(the_house.stream("/kettles/thimble/stream")) for _ in range(60)]
        await asyncio.gather(*(listens(chunks) for chunks in crowd))
    assert max(heard_s) - min(heard_s) >= 50 * SPREAD_S


async def test_a_page_that_says_nonsense_of_what_it_shows_is_sent_everything() -> None:
    async with house().stream("/kettles/thimble/stream?held=a.b") as chunks:
        await chunks.get()
        assert set(heard(await chunks.get())[1]) == set(PARTS)


async def test_a_slow_reader_gets_the_newest_and_not_the_pile() -> None:
    the_house = house()
    async with the_house.stream("/kettles/thimble/stream") as chunks:
        await chunks.get()
        await chunks.get()
        for n in range(101, 200):
            the_house.snapshots.publish(seen(n), ())
        assert heard(await chunks.get())[0] == 199
        assert chunks.empty()


async def test_batches_are_listed_and_reported() -> None:
    the_house = house()
    listed = (await the_house.get("/batches")).text
    assert "<b>Short &lt;day&gt;</b>" in listed
    report = (await the_house.get("/batches/thimble-20270115T080000/report")).text
    assert "<svg" in report
    assert "Sugar rest" in report
    assert (await the_house.get("/batches/other/report")).status == 404
