"""`after` against a simulated day: what was measured comes back as absorption, boil-off, efficiency and bitterness."""

from __future__ import annotations

import asyncio
import io
import json
import shutil
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from kettlebridge.app import JOURNAL_NAME
from kettlebridge.brewing.brew_sheet import Sheet
from kettlebridge.brewing.day_profile import profile_of
from kettlebridge.brewing.water import hot_litres
from kettlebridge.cli.main import main
from kettlebridge.files.examples import config_folder
from kettlebridge.journal.store import open_journal
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.command import Command, CommandKind
from kettlebridge.model.ids import BatchId, CommandId
from kettlebridge.model.plan import AskKind, AskStep, Plan, StepKind
from kettlebridge.ports import BatchHeader, TickEntry
from kettlebridge.runtime.clock import OpenGate
from kettlebridge.simulated.virtual_day import STARTED_UTC_S, VirtualDay
from tests.brewing.sheets import sheet

RECIPE = config_folder() / "recipes" / "wick_mild.toml"
KETTLE = config_folder() / "kettles" / "thimble.toml"
Figures = dict[str, dict[str, float]]
BUNCH = 2000
BATCH = BatchId("thimble-20270115T080000")


@dataclass(frozen=True, slots=True, kw_only=True)
class Brewed:
    """The record's folder, and what was true."""

    folder: Path
    planned: Sheet
    pre_boil_l: float
    post_boil_l: float


def lived(plan: Plan, planned: Sheet) -> tuple[list[TickEntry], list[float]]:
    """A day in which both volumes and the gravity before the boil are measured; the true litres at both times."""
    day = VirtualDay(plan, seed=2)
    entries: list[TickEntry] = []
    truths: list[float] = []
    for n, second in enumerate(day.seconds()):
        entries.append(TickEntry(batch=BATCH, n=n, inputs=second.inputs, events=second.events, urgent=n % BUNCH == 0))
        step = plan.profile.steps[min(second.state.stage.step_index, len(plan.profile.steps) - 1)]
        away = isinstance(step, AskStep) and step.what is AskKind.BASKET_AWAY
        due = (not truths and away) or (len(truths) == 1 and step.kind is StepKind.CHILL)
        if due:
            cold_l = day.world.truth().volume_l
            truths.append(cold_l)
            day.tell(_measured(n, litres=hot_litres(cold_l, 60.0), at_c=60.0))
            if away:
                day.tell(_measured(-n, gravity_sg=planned.gravities.pre_boil_sg, at_c=20.0))
    assert day.state.batch is BatchState.COMPLETE
    return entries, truths


def _measured(n: int, *, at_c: float, litres: float | None = None, gravity_sg: float | None = None) -> Command:
    return Command(
        id=CommandId(f"m{n}"),
        kind=CommandKind.MEASURED,
        who="brewer",
        litres=litres,
        gravity_sg=gravity_sg,
        at_c=at_c,
    )


async def _record(folder: Path, plan: Plan, entries: list[TickEntry]) -> None:
    header = BatchHeader(
        batch=BATCH, kettle=plan.kettle.name, plan=plan, started_utc_s=STARTED_UTC_S, program="0", python="3"
    )
    async with open_journal(folder / JOURNAL_NAME, gate=OpenGate(), program="0") as journal:
        await journal.begin(header)
        for n, entry in enumerate(entries):
            journal.record(entry)
            if n % BUNCH == 0:  # more would be dropped while so many wait
                await journal.settled(BATCH, n)
        await journal.end(BATCH, BatchState.COMPLETE)


@pytest.fixture(scope="module")
def brewed(tmp_path_factory: pytest.TempPathFactory) -> Brewed:
    folder, planned = tmp_path_factory.mktemp("state"), sheet("wick_mild", "thimble")
    plan = Plan(kettle=planned.kettle, profile=profile_of(planned))
    entries, (pre_boil_l, post_boil_l) = lived(plan, planned)
    asyncio.run(_record(folder, plan, entries))
    return Brewed(folder=folder, planned=planned, pre_boil_l=pre_boil_l, post_boil_l=post_boil_l)


@pytest.fixture(scope="module")
def told(brewed: Brewed) -> Figures:
    words = ["--recipe", str(RECIPE), "--kettle", str(KETTLE), "--json", "--state", str(brewed.folder)]
    out = io.StringIO()
    with redirect_stdout(out):
        assert main(["after", BATCH, *words]) == 0
    figures: Figures = json.loads(out.getvalue())["figures"]
    return figures


@pytest.mark.slow
def test_measured_volumes_come_back_as_they_were(brewed: Brewed, told: Figures) -> None:
    figures = told
    assert figures["pre_boil_l"]["came"] == pytest.approx(brewed.pre_boil_l, abs=0.01)
    assert figures["post_boil_l"]["came"] == pytest.approx(brewed.post_boil_l, abs=0.01)
    assert figures["pre_boil_l"]["planned"] == pytest.approx(brewed.planned.litres.pre_boil_l, rel=1e-3)


@pytest.mark.slow
def test_absorption_is_water_in_less_wort_out(brewed: Brewed, told: Figures) -> None:
    water_l, grain_kg = brewed.planned.litres.total_water_l, brewed.planned.water.grain_kg
    came = told["absorption_l_per_kg"]["came"]
    assert told["water_l"]["came"] == pytest.approx(water_l, abs=0.05)
    assert came == pytest.approx((water_l - brewed.pre_boil_l) / grain_kg, abs=0.03)


@pytest.mark.slow
def test_boil_off_and_efficiency_are_near_the_simulated_kettles(brewed: Brewed, told: Figures) -> None:
    boil_off = told["boil_off_l_per_h"]
    assert boil_off["came"] == pytest.approx(boil_off["planned"], rel=0.2)
    efficiency = told["efficiency_percent"]
    assert efficiency["came"] == pytest.approx(
        efficiency["planned"] * brewed.pre_boil_l / brewed.planned.litres.pre_boil_l, rel=1e-3
    )


@pytest.mark.slow
def test_bitterness_as_brewed_is_near_the_plan_when_hops_were_in_time(
    told: Figures,
) -> None:
    bitter = told["bitterness_ibu"]
    assert bitter["came"] == pytest.approx(bitter["planned"], rel=0.1)


@pytest.mark.slow
def test_one_batch_changes_no_kettle_file(brewed: Brewed, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    copy = tmp_path / "thimble.toml"
    shutil.copy(KETTLE, copy)
    words = ["--recipe", str(RECIPE), "--kettle", str(copy), "--write", "--state", str(brewed.folder)]
    assert main(["after", BATCH, *words]) == 0
    out = capsys.readouterr().out
    assert "nothing to change" in out
    assert copy.read_text() == KETTLE.read_text()
