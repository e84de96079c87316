"""What a day's measurements say, on views of a day made by hand; tests/scenarios does the same on the simulator."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kettlebridge.brewing.bitterness import boil_time_factor
from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.brewing.gravity import extract_kg, plato
from kettlebridge.brewing.rescue import Rescue
from kettlebridge.brewing.rescue_measured import measured_day
from kettlebridge.documents.rescue_words import rescue_lines
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.ids import BatchId
from kettlebridge.model.plan import AdditionKind, AskKind, AskStep, BoilStep, Plan
from kettlebridge.model.snapshot import Snapshot
from kettlebridge.model.trace import Happening, Series, Trace
from kettlebridge.web.measured import NO_AIM, NOTHING_YET, measured
from tests.brewing.sheets import sheet
from tests.documents.builders import snapshot

BATCH = BatchId("day")


class Day:
    """A day whose views are set one by one."""

    def __init__(self, planned: Sheet) -> None:
        self.planned = planned
        self.plan = Plan(kettle=planned.kettle, profile=profile_of(planned))
        self.happenings: list[Happening] = []
        self.now_s = 10_000.0
        self.volume_l: float | None = planned.litres.pre_boil_l
        self.index = self.place(AskKind.BASKET_AWAY)
        self.remaining_s: float | None = None
        self.later_s: tuple[tuple[int, float], ...] = ()

    def place(self, what: AskKind) -> int:
        steps = self.plan.profile.steps
        return next(n for n, step in enumerate(steps) if isinstance(step, AskStep) and step.what is what)

    @property
    def boil(self) -> int:
        return next(n for n, step in enumerate(self.plan.profile.steps) if isinstance(step, BoilStep))

    def view(self) -> Snapshot:
        step = self.plan.profile.steps[self.index]
        shown = snapshot(index=self.index, name=step.name, kind=step.kind)
        assert shown.step is not None
        return replace(
            shown,
            now_s=self.now_s,
            volume_l=self.volume_l,
            later_s=self.later_s,
            step=replace(shown.step, remaining_s=self.remaining_s),
        )

    def happens(self, code: EventCode, **values: float | str) -> None:
        self.now_s += 60.0
        self.happenings.append(Happening(event=Event(code=code, values=tuple(values.items())), seen=self.view()))

    def gravity(self, sg: float) -> None:
        self.happens(EventCode.MEASURED, what="gravity", gravity_sg=sg)

    def litres(self, litres: float) -> None:
        counted_l, self.volume_l = self.volume_l or 0.0, litres
        self.happens(EventCode.MEASURED, what="volume", volume_l=litres, counted_l=counted_l)

    def boils(self, left_min: float, boiled_min: float) -> None:
        self.index, self.remaining_s = self.boil, left_min * 60.0
        self.happens(EventCode.BOIL_FOUND)
        self.now_s += 60.0 * boiled_min

    def trace(self) -> Trace:
        return Trace(batch=BATCH, series=Series(), happenings=tuple(self.happenings), last=self.view())

    def says(self) -> Rescue:
        found = measured_day(self.plan, self.trace())
        assert found is not None
        return found


@pytest.fixture
def day() -> Day:
    return Day(sheet("corvane_pale", "saddle"))


@pytest.mark.parametrize(
    ("recipe", "kettle"),
    [
        ("corvane_pale", "saddle"),
        ("landing_saison", "saddle"),
        ("ferry_bock", "ferryman"),
        ("wick_mild", "thimble"),
    ],
)
def test_a_day_that_goes_as_its_sheet_says_comes_to_what_its_sheet_says(recipe: str, kettle: str) -> None:
    day = Day(sheet(recipe, kettle))
    day.litres(day.planned.litres.pre_boil_l)
    day.gravity(day.planned.gravities.pre_boil_sg)
    said = day.says()
    assert said.mends == ()
    assert said.found.get("efficiency_percent") == pytest.approx(said.found.get("planned_percent"), abs=0.3)
    assert said.unmended.get("original_sg") == pytest.approx(day.planned.gravities.original_sg, abs=3e-4)
    assert said.unmended.get("fermenter_l") == pytest.approx(day.planned.litres.into_fermenter_l, abs=0.05)
    assert said.unmended.get("final_sg") == pytest.approx(day.planned.gravities.final_sg, abs=2e-4)
    assert said.unmended.get("alcohol_percent") == pytest.approx(day.planned.gravities.alcohol_percent, abs=0.05)
    assert said.unmended.get("bitterness_ibu") == pytest.approx(day.planned.bitterness_ibu, rel=0.02)


def test_litres_read_just_after_a_gravity_are_the_litres_of_that_gravity(day: Day) -> None:
    day.gravity(1.040)
    day.litres(day.planned.litres.pre_boil_l - 1.0)
    either = day.says()
    other = Day(day.planned)
    other.litres(day.planned.litres.pre_boil_l - 1.0)
    other.gravity(1.040)
    assert either.found == other.says().found


def test_litres_read_long_after_a_gravity_leave_its_extract_as_it_was(day: Day) -> None:
    day.gravity(1.040)
    before = day.says()
    day.boils(left_min=30.0, boiled_min=30.0)
    day.litres(day.planned.litres.pre_boil_l - 3.0)
    assert day.says().found.get("efficiency_percent") == pytest.approx(before.found.get("efficiency_percent"))


def test_without_a_gravity_the_extract_is_taken_as_planned_and_that_is_said(day: Day) -> None:
    day.litres(day.planned.litres.pre_boil_l - 2.0)
    said = day.says()
    assert said.found.code == "volume_measured"
    assert said.unmended.get("original_sg") > day.planned.gravities.original_sg + 0.003


def test_weak_wort_before_the_boil_offers_a_boil_of_its_own_step(day: Day) -> None:
    day.litres(day.planned.litres.pre_boil_l)
    day.gravity(1.036)
    longer = next(each for each in day.says().mends if each.code == "boil_longer")
    assert longer.get("step") == day.boil + 1
    day.later_s = ((day.boil, longer.get("minutes") * 60.0),)
    assert "boil_longer" not in {each.code for each in day.says().mends}
    assert day.says().unmended.get("original_sg") == pytest.approx(longer.get("original_sg"))


def test_sugar_that_is_in_counts_once(day: Day) -> None:
    """Measured with it in or without, the beer is the same."""
    day = Day(sheet("landing_saison", "saddle"))
    place, sugar = next(
        (n, each)
        for n, each in enumerate(day.plan.profile.steps[day.boil].additions)  # type: ignore[union-attr]  # a boil's
        if each.kind is AdditionKind.SUGAR
    )
    day.litres(day.planned.litres.pre_boil_l)
    day.gravity(1.044)
    before = day.says()
    day.boils(left_min=day.planned.recipe.boil_min, boiled_min=0.0)
    day.happens(EventCode.ADDITION_MADE, index=place, addition=sugar.name)
    after = day.says()
    assert after.unmended.get("original_sg") == pytest.approx(before.unmended.get("original_sg"), abs=1e-6)
    assert after.unmended.get("fermenter_l") == pytest.approx(before.unmended.get("fermenter_l"), abs=1e-6)
    assert after.found.get("efficiency_percent") == pytest.approx(before.found.get("efficiency_percent"))


def test_a_hop_counts_from_when_it_really_went_in(day: Day) -> None:
    """Half an hour late, it is worth as much less as Tinseth's times say."""
    day = Day(sheet("wick_mild", "thimble"))
    (place, hop), *_ = (
        (n, each)
        for n, each in enumerate(day.plan.profile.steps[day.boil].additions)  # type: ignore[union-attr]  # a boil's
        if each.kind is AdditionKind.HOPS
    )
    day.litres(day.planned.litres.pre_boil_l)
    day.gravity(day.planned.gravities.pre_boil_sg)
    planned_ibu = day.says().unmended.get("bitterness_ibu")
    late_min, left_min = 30.0, day.planned.recipe.boil_min - 30.0
    assert hop.before_end_min > left_min
    day.boils(left_min=left_min, boiled_min=late_min)
    day.litres((day.volume_l or 0.0) - day.planned.litres.boil_off_l * late_min / day.planned.recipe.boil_min)
    day.happens(EventCode.ADDITION_MADE, index=place, addition=hop.name)
    late_ibu = day.says().unmended.get("bitterness_ibu")
    lost = boil_time_factor(hop.before_end_min) - boil_time_factor(left_min)
    assert planned_ibu - late_ibu == pytest.approx(planned_ibu * lost / boil_time_factor(hop.before_end_min), rel=0.12)


def test_extract_is_what_the_measured_litres_and_gravity_make(day: Day) -> None:
    day.litres(20.0)
    day.gravity(1.046)
    said = day.says()
    end_l = said.unmended.get("fermenter_l") + day.planned.litres.post_boil_l - day.planned.litres.into_fermenter_l
    held_kg = extract_kg(end_l, plato(said.unmended.get("original_sg")))
    assert held_kg == pytest.approx(extract_kg(20.0, plato(1.046)), rel=1e-3)


def test_after_the_boil_only_hands_can_help(day: Day) -> None:
    day.litres(day.planned.litres.pre_boil_l)
    day.gravity(1.036)
    day.index, day.volume_l = day.boil + 1, day.planned.litres.post_boil_l
    assert {each.code for each in day.says().mends} <= {"sugar", "malt_extract", "water", "water_and_sugar"}


@pytest.mark.parametrize("what", [AskKind.DOUGH_IN, AskKind.SPARGE, AskKind.LIFT])
def test_what_is_measured_before_the_wort_is_whole_says_nothing(day: Day, what: AskKind) -> None:
    day.index = day.place(what)
    day.gravity(1.060)
    assert measured_day(day.plan, day.trace()) is None
    day.index = day.boil
    assert measured_day(day.plan, day.trace()) is None


def test_water_for_cleaning_is_no_wort(day: Day) -> None:
    day.litres(day.planned.litres.pre_boil_l)
    day.index, day.volume_l = len(day.plan.profile.steps) - 1, 12.0
    assert measured_day(day.plan, day.trace()) is None


def test_the_words_have_every_figure(day: Day) -> None:
    day.litres(20.0)
    day.gravity(1.036)
    lines = list(rescue_lines(day.says()))
    assert lines[0].startswith("20.0 L of 1.036 are in the kettle. That is ")
    assert lines[1].startswith("- Boil ")
    assert " % alcohol and " in lines[1]
    assert "planned)" in lines[-1]


def test_the_page_offers_a_form_where_the_kettle_can_do_it_by_itself(day: Day) -> None:
    day.litres(day.planned.litres.pre_boil_l)
    day.gravity(1.036)
    longer, *others = measured(day.plan, day.trace()).choices
    assert longer.step_index == day.boil
    assert float(longer.minutes or "0") == next(each for each in day.says().mends).get("minutes")
    assert [each.minutes for each in others] == [None] * len(others)


def test_the_page_says_why_it_says_nothing(day: Day) -> None:
    assert measured(day.plan, day.trace()).problem == NOTHING_YET
    aimless = replace(day.plan, profile=replace(day.plan.profile, aim=None))
    assert measured(aimless, day.trace()).problem == NO_AIM
    day.litres(3.0)
    day.gravity(1.036)
    assert "boil dry" in measured(day.plan, day.trace()).problem


def test_a_boil_began_before_it_was_told() -> None:
    day = Day(sheet("corvane_pale", "saddle"))
    day.happens(EventCode.BOIL_FOUND, boil_c=99.8, began_s_ago=90.0)
    assert day.trace().boil_began_s == day.now_s - 90.0


def test_a_record_that_knows_no_begin_takes_when_the_boil_was_told() -> None:
    day = Day(sheet("corvane_pale", "saddle"))
    assert day.trace().boil_began_s is None
    day.happens(EventCode.BOIL_FOUND, boil_c=99.8)
    assert day.trace().boil_began_s == day.now_s
