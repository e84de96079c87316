"""A profile file becomes a profile, or every mistake in it is named."""

from __future__ import annotations

import pytest

from kettlebridge.model.plan import (
    AdditionKind,
    AskKind,
    AskStep,
    BoilStep,
    ChillStep,
    HeatStep,
    RestStep,
    Water,
)
from tests.files.loader import Loader
from tests.files.texts import PROFILE, swapped

ASK = '[[step]]\ndo = "ask"\nwhat = "{}"\n'
FILL, DOUGH_IN, LIFT, SPARGE, AWAY, PITCH, EMPTY = (
    ASK.format(what) for what in ("fill", "dough_in", "lift", "sparge", "basket_away", "pitch", "empty")
)
HEAT = '[[step]]\ndo = "heat"\nto_c = 71\n'
REST = '[[step]]\ndo = "rest"\nat_c = 66\nfor_min = 60\n'
BOIL = '[[step]]\ndo = "boil"\nfor_min = 60\n'


def test_steps_become_what_they_say(loader: Loader) -> None:
    profile = loader.profile(PROFILE)
    assert profile.name == "Plain"
    assert profile.water == Water(fill_l=15, sparge_l=5, grain_kg=4)
    assert profile.ready_at is None
    assert profile.steps[1] == HeatStep(name="Heat", to_c=71)
    assert profile.steps[3] == RestStep(name="Rest", at_c=66, for_min=60)
    assert profile.steps[8] == ChillStep(name="Chill", way=None, to_c=20, water_c=12)


def test_asks_are_named_after_what_they_ask(loader: Loader) -> None:
    asks = [step for step in loader.profile(PROFILE).steps if isinstance(step, AskStep)]
    assert [ask.name for ask in asks] == ["Fill", "Dough in", "Lift", "Sparge", "Basket away", "Pitch", "Empty"]


def test_additions_are_part_of_their_step(loader: Loader) -> None:
    boil = loader.profile(PROFILE).steps[7]
    assert isinstance(boil, BoilStep)
    assert [(each.name, each.kind, each.grams, each.before_end_min) for each in boil.additions] == [
        ("leaf", AdditionKind.HOPS, 20, 60)
    ]


def test_fill_and_sparge_take_their_litres_from_the_water_table(loader: Loader) -> None:
    asks = {step.what: step.litres for step in loader.profile(PROFILE).steps if isinstance(step, AskStep)}
    assert (asks[AskKind.FILL], asks[AskKind.SPARGE], asks[AskKind.LIFT]) == (15, 5, None)


def test_ready_at_marks_the_first_heat_step_and_no_other(loader: Loader) -> None:
    cleaning = '[[step]]\ndo = "ask"\nwhat = "fill"\nlitres = 9\n' + HEAT
    profile = loader.profile(swapped(PROFILE, 'name = "Plain"', 'name = "Plain"\nready_at = "06:45"') + cleaning)
    assert profile.ready_at == "06:45"
    assert [step.ready for step in profile.steps if isinstance(step, HeatStep)] == [True, False]


def test_wort_may_be_kept_warm_while_hands_stay_out(loader: Loader) -> None:
    sparge = loader.profile(swapped(PROFILE, 'what = "sparge"', 'what = "sparge"\nkeep_c = 78')).steps[5]
    assert isinstance(sparge, AskStep)
    assert sparge.keep_c == 78


def test_several_sparges_share_the_litres(loader: Loader) -> None:
    portions = SPARGE + "litres = 3.5\n" + SPARGE + "litres = 1.5\n"
    profile = loader.profile(swapped(PROFILE, SPARGE, portions))
    assert [step.litres for step in profile.steps if isinstance(step, AskStep)][3:5] == [3.5, 1.5]


def test_day_without_a_mash_needs_no_basket(loader: Loader) -> None:
    day = 'schema = 1\nname = "Extract"\n[water]\nfill_l = 10\n' + FILL + BOIL + PITCH + EMPTY
    assert len(loader.profile(day).steps) == 4


HANDS_IN = "is refused: hands are in the kettle, so heater, pump and main contactor stay off"

# What is put in the place of what, and the one line that must come of it.
MISTAKES = {
    "unknown step": (
        'do = "heat"',
        'do = "raste"',
        'it.toml:11: step[2].do: "raste" is not allowed: heat, ask, rest, boil, hop_stand, circulate, chill',
    ),
    "step that does nothing": ('do = "heat"\n', "", "it.toml:10: step[2].do: missing: it says what the step does"),
    "unknown key in a step": (
        "at_c = 66",
        "at_c = 66\nto_c = 66",
        "it.toml:19: step[4].to_c: unknown key; did you mean at_c?",
    ),
    "heat above 90": (
        "to_c = 71",
        "to_c = 95",
        "it.toml:12: step[2].to_c: 95 is too big: 20 to 90 °C (hotter only in boil, hop_stand and circulate)",
    ),
    "sparge water hotter than the bed may be rinsed with": (
        "sparge_l = 5",
        "sparge_l = 5\nsparge_c = 79",
        "it.toml:6: water.sparge_c: 79 is too big: 10 to 78 °C",
    ),
    "rest above 80": (
        "at_c = 66",
        "at_c = 81",
        "it.toml:18: step[4].at_c: 81 is too big: 30 to 80 °C (above it no enzyme is left to turn starch to sugar)",
    ),
    "no steps": (
        PROFILE[PROFILE.index("[[step]]") :],
        "",
        "it.toml: step: missing; the steps in their order, at least one",
    ),
    "time of day that is none": (
        'name = "Plain"',
        'name = "Plain"\nready_at = "24:00"',
        'it.toml:3: ready_at: "24:00" is not allowed: "HH:MM", local time, 00:00 to 23:59',
    ),
    "time of day without quotes": (
        'name = "Plain"',
        'name = "Plain"\nready_at = 07:00:00',
        'it.toml:3: ready_at: 07:00:00 is not text in quotes: "HH:MM", local time, 00:00 to 23:59',
    ),
    "grain of a wrong kind": (
        'kind = "hops"',
        'kind = "hop"',
        'it.toml:34: step[8].addition[1].kind: "hop" is not allowed: hops, sugar, fining, nutrient, other',
    ),
    "keep warm with hands in, dough in": (
        'what = "dough_in"',
        'what = "dough_in"\nkeep_c = 66',
        f"it.toml:16: step[3].keep_c: {HANDS_IN}",
    ),
    "keep warm with hands in, lift": (
        'what = "lift"',
        'what = "lift"\nkeep_c = 66',
        f"it.toml:23: step[5].keep_c: {HANDS_IN}",
    ),
    "keep warm with hands in, stir": (
        LIFT,
        ASK.format("stir") + "keep_c = 50\n" + LIFT,
        f"it.toml:23: step[5].keep_c: {HANDS_IN}",
    ),
    "keep warm an empty kettle": (
        'what = "fill"',
        'what = "fill"\nkeep_c = 40',
        "it.toml:10: step[1].keep_c: is refused: nothing is kept warm here",
    ),
    "keep too warm": (
        'what = "sparge"',
        'what = "sparge"\nkeep_c = 79',
        "it.toml:26: step[6].keep_c: 79 is too big: 30 to 78 °C",
    ),
    "addition before its step begins": (
        "before_end_min = 60",
        "before_end_min = 61",
        "it.toml:36: step[8].addition[1].before_end_min: 61 is too big: the step lasts 60 min",
    ),
    "sanitising longer than the boil": (
        BOIL,
        BOIL.replace("60", "10")
        + "sanitise_last_min = 11\n"
        + AWAY.replace("basket_away", "other")
        + 'text = "x"\n'
        + BOIL,
        "it.toml:32: step[8].sanitise_last_min: 11 is too big: the step lasts 10 min",
    ),
    "pump after the rest": (
        "at_c = 66",
        "at_c = 66\npump_after_min = 61",
        "it.toml:19: step[4].pump_after_min: 61 is too big: the step lasts 60 min",
    ),
    "pump on hot water by a heat step": (
        "to_c = 71",
        "to_c = 85\npump = true",
        "it.toml:13: step[2].pump: must be false: above 80 °C a heat step does not pump",
    ),
    "ready_at with the pump on": (
        'name = "Plain"\n[water]\nfill_l = 15\nsparge_l = 5\ngrain_kg = 4\n' + FILL + HEAT,
        'name = "Plain"\nready_at = "07:00"\n[water]\nfill_l = 15\nsparge_l = 5\ngrain_kg = 4\n'
        + FILL
        + HEAT
        + "pump = true\n",
        "it.toml:14: step[2].pump: must be false: with ready_at this step may heat with nobody there",
    ),
    "ready_at after the grain": (
        'name = "Plain"\n[water]\nfill_l = 15\nsparge_l = 5\ngrain_kg = 4\n' + FILL + HEAT + DOUGH_IN,
        'name = "Plain"\nready_at = "07:00"\n[water]\nfill_l = 15\nsparge_l = 5\ngrain_kg = 4\n'
        + FILL
        + DOUGH_IN
        + HEAT,
        "it.toml:3: ready_at: needs a heat step before any grain",
    ),
    "ready_at with nothing to heat": (
        'name = "Plain"\n[water]\nfill_l = 15\nsparge_l = 5\ngrain_kg = 4\n' + FILL + HEAT,
        'name = "Plain"\nready_at = "07:00"\n[water]\nfill_l = 15\nsparge_l = 5\ngrain_kg = 4\n' + FILL,
        "it.toml:3: ready_at: needs a heat step before any grain",
    ),
    "mash without grain": (
        "grain_kg = 4\n",
        "",
        "it.toml:3: water.grain_kg: must be more than 0: there is an ask for dough_in",
    ),
    "sparge without litres": (
        "sparge_l = 5\n",
        "",
        "it.toml:3: water.sparge_l: must be more than 0: there is an ask for sparge",
    ),
    "litres without a sparge": (
        SPARGE,
        "",
        "it.toml:5: water.sparge_l: 5 L go nowhere: there is no ask for sparge",
    ),
    "fill of another size": (
        'what = "fill"',
        'what = "fill"\nlitres = 14',
        "it.toml:10: step[1].litres: 14 is not fill_l of [water], 15 L; it may be left out",
    ),
    "portions that do not add up": (
        SPARGE,
        SPARGE + "litres = 3\n" + SPARGE + "litres = 3\n",
        "it.toml:30: step[7].litres: the portions are 6 L together, sparge_l of [water] is 5",
    ),
    "litres to lift": (
        'what = "lift"',
        'what = "lift"\nlitres = 3',
        "it.toml:23: step[5].litres: is refused: only fill, infuse and sparge take litres",
    ),
    "infusion that does not say how hot": (
        LIFT,
        ASK.format("infuse") + "litres = 3\n" + LIFT,
        "it.toml:20: step[5].water_c: missing: an infusion says how much and how hot",
    ),
    "hot water for a lift": (
        'what = "lift"',
        'what = "lift"\nwater_c = 95',
        "it.toml:23: step[5].water_c: is refused: only infuse takes it",
    ),
    "infusion before any grain": (
        DOUGH_IN,
        ASK.format("infuse") + "litres = 3\nwater_c = 95\n" + DOUGH_IN,
        "it.toml:15: step[3].what: infuse comes at a wrong time: there is water, no grain; it needs the grain in",
    ),
    "other without words": (
        LIFT,
        ASK.format("other") + LIFT,
        'it.toml:20: step[5].text: missing: what = "other" says here what hands are to do',
    ),
    "heating before a fill": (
        FILL,
        "",
        (
            "it.toml:8: step[1].do: heat comes at a wrong time: the kettle is empty; it needs a fill before it, "
            "and nothing poured away or pitched since"
        ),
    ),
    "heating after the kettle was emptied": (
        PITCH + EMPTY,
        PITCH + EMPTY + HEAT,
        (
            "it.toml:48: step[12].do: heat comes at a wrong time: the kettle is empty; it needs a fill before it, "
            "and nothing poured away or pitched since"
        ),
    ),
    "heating after the wort was pitched": (
        PITCH,
        PITCH + HEAT,
        (
            "it.toml:45: step[11].do: heat comes at a wrong time: the wort is pitched; it needs a fill before it, "
            "and nothing poured away or pitched since"
        ),
    ),
    "rest before the grain": (
        HEAT,
        HEAT + REST,
        (
            "it.toml:14: step[3].do: rest comes at a wrong time: there is water, no grain; it needs the grain in: "
            "dough_in before it, and no lift yet"
        ),
    ),
    "rest after the lift": (
        SPARGE,
        REST + SPARGE,
        (
            "it.toml:24: step[6].do: rest comes at a wrong time: the basket is lifted; it needs the grain in: "
            "dough_in before it, and no lift yet"
        ),
    ),
    "climb with the basket still hanging": (
        AWAY,
        "",
        (
            "it.toml:27: step[7].do: boil comes at a wrong time: the basket is lifted; it needs a fill before it and, "
            "after a dough_in, lift and basket_away"
        ),
    ),
    "basket away without a lift": (
        LIFT + SPARGE + AWAY,
        AWAY + LIFT + SPARGE + AWAY,
        "it.toml:22: step[5].what: basket_away comes at a wrong time: the grain is in; it needs the basket lifted",
    ),
    "sparge after the drain": (
        SPARGE,
        ASK.format("drain") + SPARGE,
        (
            "it.toml:28: step[7].what: sparge comes at a wrong time: the basket is lifted and drained; "
            "it needs the basket lifted, not yet drained"
        ),
    ),
    "second dough in": (
        DOUGH_IN,
        DOUGH_IN + DOUGH_IN,
        "it.toml:18: step[4].what: a second dough_in: at most one in a day",
    ),
    "too hot for the grain": (
        LIFT,
        HEAT.replace("71", "85") + LIFT,
        "it.toml:22: step[5].to_c: 85 is too big while the grain is in: 20 to 80 °C",
    ),
    "fill on top of wort": (
        PITCH,
        FILL + "litres = 3\n" + PITCH,
        "it.toml:43: step[10].what: fill comes at a wrong time: the basket is away; it needs an empty kettle",
    ),
    "second fill without litres": (
        EMPTY,
        EMPTY + FILL,
        "it.toml:47: step[12].litres: missing: only the first fill takes it from [water]",
    ),
    "empty with the grain in": (
        LIFT,
        EMPTY + LIFT,
        "it.toml:22: step[5].what: empty comes at a wrong time: the grain is in; it needs a full kettle without grain",
    ),
    "cleaning round the wort": (
        PITCH,
        '[[step]]\ndo = "circulate"\nat_c = 60\nfor_min = 10\n' + PITCH,
        (
            "it.toml:42: step[10].do: circulate comes at a wrong time: the basket is away; "
            "it needs water without grain or wort: a fill before it"
        ),
    ),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_named_with_its_line_and_what_is_needed(loader: Loader, name: str) -> None:
    old, new, told = MISTAKES[name]
    assert loader.mistakes(loader.profile, swapped(PROFILE, old, new)) == [told]


def test_grain_that_goes_nowhere_is_a_mistake(loader: Loader) -> None:
    day = 'schema = 1\nname = "Extract"\n[water]\nfill_l = 10\ngrain_kg = 2\n' + FILL + BOIL
    assert loader.mistakes(loader.profile, day) == [
        "it.toml:5: water.grain_kg: 2 kg go nowhere: there is no ask for dough_in"
    ]


def test_of_several_sparges_each_says_its_litres(loader: Loader) -> None:
    told = loader.mistakes(loader.profile, swapped(PROFILE, SPARGE, SPARGE + SPARGE))
    assert [line.split(": ", 1)[1] for line in told] == [
        f"step[{n}].litres: missing: of several portions each says its own" for n in (6, 7)
    ]


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file(loader: Loader) -> None:
    text = PROFILE
    for name in (
        "keep warm with hands in, dough in",
        "rest above 80",
        "addition before its step begins",
        "sparge without litres",
    ):
        text = swapped(text, *MISTAKES[name][:2])
    keys = [told.split(": ")[1] for told in loader.mistakes(loader.profile, text)]
    assert keys == ["water.sparge_l", "step[3].keep_c", "step[4].at_c", "step[8].addition[1].before_end_min"]


def test_a_step_that_is_not_understood_does_not_put_the_others_out_of_order(loader: Loader) -> None:
    told = loader.mistakes(loader.profile, swapped(PROFILE, 'what = "fill"', 'what = "fil"'))
    assert len(told) == 1


def test_one_slip_in_the_order_is_told_once(loader: Loader) -> None:
    """Without the fill all that follows would be wrong; the first place is enough."""
    assert len(loader.mistakes(loader.profile, swapped(PROFILE, FILL, ""))) == 1
