"""Any recipe in any kettle: the sheet is worked out or refused, and a day that fits is a profile that runs."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kettlebridge.brewing.brew_sheet import brew_sheet
from kettlebridge.brewing.cautions import cautions, fits
from kettlebridge.brewing.day import Day
from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.core.validation import misfits
from kettlebridge.documents.sheet import sheet_page
from kettlebridge.documents.sheet_json import sheet_values
from kettlebridge.files.profile_text import profile_text
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.plan import AdditionKind
from kettlebridge.model.recipe import (
    AdditionUse,
    Fermentable,
    FermentableKind,
    Hop,
    HopUse,
    Mash,
    OtherAddition,
    Recipe,
    Rest,
    Stand,
    Targets,
    Yeast,
    YeastKind,
)
from tests.brewing.sheets import kettle
from tests.files.loader import Loader

BOIL_MIN, STAND_MIN = 60.0, 20.0
MINUTES = st.floats(0.0, BOIL_MIN)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False).map(lambda value: round(value, 3))


GRAINS = st.builds(
    Fermentable,
    name=st.just("Malt"),
    kind=st.sampled_from([FermentableKind.GRAIN, FermentableKind.ADJUNCT]),
    kg=numbers(0.05, 12.0),
    yield_fraction=st.floats(0.4, 0.9),
    moisture_fraction=st.floats(0.0, 0.15),
    colour_ebc=st.floats(0.0, 1500.0),
)
SUGARS = st.builds(
    Fermentable,
    name=st.just("Sugar"),
    kind=st.sampled_from([FermentableKind.SUGAR, FermentableKind.EXTRACT, FermentableKind.DRY_EXTRACT]),
    kg=numbers(0.005, 3.0),
    yield_fraction=st.floats(0.5, 1.0),
    moisture_fraction=st.floats(0.0, 0.3),
    colour_ebc=st.floats(0.0, 200.0),
    before_end_min=MINUTES,
)
TIMES: dict[HopUse, st.SearchStrategy[float]] = {HopUse.BOIL: MINUTES, HopUse.STAND: st.floats(0.0, STAND_MIN)}
HOPS = st.sampled_from(HopUse).flatmap(
    lambda use: st.builds(
        Hop,
        name=st.just("Hop"),
        grams=st.floats(0.01, 300.0),
        alpha_fraction=st.floats(0.0, 0.25),
        use=st.just(use),
        before_end_min=TIMES.get(use, st.none()),
    )
)
OTHERS = st.builds(
    OtherAddition,
    name=st.text(st.characters(categories=["L", "P"]), min_size=1, max_size=80),
    kind=st.sampled_from([AdditionKind.FINING, AdditionKind.NUTRIENT, AdditionKind.OTHER]),
    grams=st.floats(0.01, 500.0),
    use=st.sampled_from([AdditionUse.MASH, AdditionUse.FERMENTER, AdditionUse.PACKAGE]),
)
MASHES = st.builds(
    Mash,
    rests=st.lists(st.integers(35, 80), min_size=1, max_size=5, unique=True).map(
        lambda temps: tuple(Rest(name="Rest", at_c=float(at_c), for_min=20.0) for at_c in sorted(temps))
    ),
    water_l_per_kg=st.floats(1.5, 8.0),
    sparges=st.booleans(),
    sparge_c=st.floats(10.0, 78.0),
)


@st.composite
def recipes(draw: st.DrawFn) -> Recipe:
    grains = draw(st.lists(GRAINS, max_size=4))
    sugars = draw(st.lists(SUGARS, min_size=0 if grains else 1, max_size=3))
    return Recipe(
        name="Any",
        style="",
        notes="",
        batch_l=draw(st.floats(1.0, 60.0)),
        efficiency_fraction=draw(st.floats(0.2, 1.0)),
        fermentables=(*grains, *sugars),
        hops=tuple(draw(st.lists(HOPS, max_size=5))),
        additions=tuple(draw(st.lists(OTHERS, max_size=12))),
        mash=draw(MASHES) if grains else None,
        boil_min=BOIL_MIN,
        stand=Stand(at_c=draw(st.floats(40.0, 98.0)), for_min=STAND_MIN),
        yeast=Yeast(
            name="Yeast",
            kind=draw(st.sampled_from(YeastKind)),
            attenuation_fraction=draw(st.floats(0.2, 1.0)),
            pitch_c=draw(st.floats(1.0, 40.0)),
            cells_billion=draw(st.none() | st.floats(0.1, 2000.0)),
        ),
        targets=Targets(),
    )


@st.composite
def kettles(draw: st.DrawFn) -> Kettle:
    one = kettle(draw(st.sampled_from(["thimble", "saddle", "ferryman"])))
    return replace(
        one,
        has_pump=draw(st.booleans()),
        heater_w=draw(st.floats(1000.0, 9000.0)),
        grain_absorption_l_per_kg=draw(st.floats(0.3, 1.5)),
        dead_space_l=draw(st.floats(0.0, 3.0)),
    )


DAYS = st.builds(
    Day,
    grain_c=st.floats(-10.0, 45.0),
    room_c=st.floats(-10.0, 45.0),
    tap_c=st.floats(0.0, 35.0),
    dough_in_min=st.floats(0.0, 30.0),
    ready_min=st.none() | st.floats(0.0, 1439.0),
)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(one=recipes(), vessel=kettles(), day=DAYS, ready_at=st.sampled_from([None, "06:30"]))
def test_sheet_is_whole_or_refused_and_its_profile_runs(
    loader: Loader, one: Recipe, vessel: Kettle, day: Day, ready_at: str | None
) -> None:
    try:
        sheet = brew_sheet(one, vessel, day)
    except ValueError:
        return
    assert isfinite(sheet.bitterness_ibu + sheet.colour_ebc + sheet.litres.total_water_l + sheet.energy_kwh)
    assert sheet.water.fill_l + sheet.water.sparge_l - sheet.litres.absorbed_l - sheet.litres.pre_boil_l < 1e-9
    assert sheet_page(sheet).endswith("</html>\n")
    assert sheet_values(sheet)["fits"] == fits(sheet)
    assert all(isfinite(value) for caution in cautions(sheet) for _, value in caution.values)
    if fits(sheet):
        made = profile_of(sheet, ready_at)
        assert loader.profile(profile_text(made)) == made
        assert misfits(vessel, made) == ()
