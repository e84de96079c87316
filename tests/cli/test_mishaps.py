"""A practice day: what befalls it is drawn by its seed, and told at the end with how it was handled."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kettlebridge.cli.main import main
from kettlebridge.cli.practice_told import NONE_CAME
from kettlebridge.files.kettle_file import load_kettle
from kettlebridge.simulated.brewer import Moment, usual_acts
from kettlebridge.simulated.kettle_mishaps import HEATING
from kettlebridge.simulated.mishaps import DRAWN, MISHAPS, PracticeDay
from kettlebridge.simulated.practice_faults import drawn
from tests.cli.kettles import example, quick_day, short_day
from tests.documents.builders import call, plan, snapshot

pytestmark = pytest.mark.usefixtures("records_replay")

SPARED = "Less water went in than was confirmed."


def drawn_of_a_brewer(seed: int, *, hands_off: bool) -> set[str]:
    return {mishap.happened for mishap in PracticeDay(seed=seed, hands_off=hands_off)._waiting}


def test_a_seed_draws_the_same_mishaps_again_and_all_of_them_come_by_and_by() -> None:
    assert all(len(drawn_of_a_brewer(seed, hands_off=True)) == DRAWN for seed in range(5))
    assert drawn_of_a_brewer(3, hands_off=True) == drawn_of_a_brewer(3, hands_off=True)
    assert set().union(*(drawn_of_a_brewer(seed, hands_off=True) for seed in range(60))) == {
        one.happened for one in MISHAPS
    }


def test_who_is_there_is_spared_the_mishaps_of_not_coming() -> None:
    never = {mishap.happened for mishap in MISHAPS if mishap.late_s is not None}
    assert not never & set().union(*(drawn_of_a_brewer(seed, hands_off=False) for seed in range(60)))


def test_each_mishap_befalls_once_and_hands_do_as_usual_otherwise() -> None:
    for mishap in MISHAPS:
        day = PracticeDay(seed=1, hands_off=True)
        day._waiting = [mishap]
        kind, subject = ("ask", mishap.on) if mishap.on in {"fill", "dough_in", "lift"} else (mishap.on, "")
        one = call(kind=kind, subject=subject, litres=5.0, kg=1.0)
        moment = Moment(plan=plan(), snapshot=snapshot(), call=one)
        odd = day.late_s(one, 50.0) > 0.0 or day.acts(moment) != usual_acts(moment)
        assert odd, mishap.happened
        assert [befell.mishap for befell in day.befell] == [mishap]
        assert day.late_s(one, 60.0) == 0.0
        assert day.acts(moment) == usual_acts(moment)


@pytest.mark.slow
def test_the_end_of_a_practice_day_tells_each_mishap_and_how_it_was_handled(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kettle, profile = quick_day(tmp_path)
    given = ("--kettle", str(kettle), "--profile", str(profile), "--state", str(tmp_path))
    practice = ("--mishaps", "--hands-off", "--until-complete", "--speed", "max", "--http", "0", "--seed", "15")
    assert main(["demo", *given, *practice]) == 0
    end = capsys.readouterr().out.partition("Mishaps of this practice day")[2]
    words = " ".join(" ".join(cells) for cells in columns(end))
    assert re.search(r"The grain came from a frosty shed, with a jug of cold water\.", words)
    assert re.search(r"The rest began \d+ min after it\.", words)
    assert re.search(r"An addition was forgotten\.", words)
    assert re.search(r"After \d+ s \(unanswered\): You were asked for something a while ago\.", words)
    assert re.search(r"It went in \d+ min late\.", words)
    faults = [one.mishap for one in drawn(load_kettle(kettle).kettle, seed=15, hard=False)]
    assert [fault.happened for fault in faults if fault.happened not in words] == []
    assert words.count("Put right after ") == len(faults)


def columns(table: str) -> list[list[str]]:
    """The cells of each column, from the top down."""
    lines = [[cell.strip() for cell in line.split("│")[1:-1]] for line in table.splitlines() if line.startswith("│")]
    return [[cell for cell in column if cell] for column in zip(*lines, strict=True)]


def test_a_day_that_ends_before_says_that_none_came(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = ("--kettle", str(example("thimble")), "--profile", str(short_day(tmp_path)), "--state", "temp")
    kettle = load_kettle(example("thimble")).kettle
    seed = next(
        str(seed)
        for seed in range(99)
        if SPARED not in drawn_of_a_brewer(seed, hands_off=True)
        and not any(one.moment == HEATING for one in drawn(kettle, seed=seed, hard=False))
    )
    practice = ("--mishaps", "--hands-off", "--until-complete", "--speed", "max", "--http", "0", "--seed", seed)
    assert main(["demo", *given, *practice]) == 0
    assert NONE_CAME in capsys.readouterr().out


@pytest.mark.slow
def test_a_board_that_is_on_no_serial_line_has_the_mishaps_of_the_brewer_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = ("--kettle", str(example("thimble")), "--profile", str(short_day(tmp_path)), "--state", "temp")
    practice = ("--mishaps", "--hands-off", "--until-complete", "--speed", "max", "--http", "0", "--bridge", "modbus")
    assert main(["demo", *given, *practice]) == 0
    assert "today only the brewer's own mishaps" in capsys.readouterr().out
