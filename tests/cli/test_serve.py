"""`serve` as a process of its own, with the board in another: it starts, comes back paused, and ends with all off."""

from __future__ import annotations

import contextlib
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from kettlebridge.app import records_in
from tests.cli.kettles import CODE, kettle_at, short_day
from tests.cli.programs import PATIENCE_S, finished, running

CONTROL = "285E3D910700005F"
AMBIENT = "2861A4F20B000071"

pytestmark = [pytest.mark.process, pytest.mark.slow]


@contextlib.contextmanager
def board(folder: Path, *, board_id: str = "3A51") -> Iterator[Path]:
    """A simulated board in its own process, in real time; its port under a name that stays."""
    link = folder / "board"
    probes = ("--probe", f"control={CONTROL}", "--probe", f"ambient={AMBIENT}")
    kettle = ("--capacity-l", "12", "--heater-w", "1800", "--id", board_id, "--link", str(link))
    with running("kettlesim", *kettle, *probes) as program:
        program.line_with("ready")
        yield link


def tell(folder: Path, *words: str) -> str:
    done = finished("kettlebridge", "tell", "thimble", *words, "--state", str(folder / "state"))
    return done.stdout + done.stderr


def answered(folder: Path, answer: str, *words: str) -> None:
    """Tells it again until that is the answer: after a start a probe needs some seconds to be believed."""
    until_s = time.monotonic() + PATIENCE_S
    while (said := tell(folder, *words)) != answer:
        assert time.monotonic() < until_s, said


def serve(folder: Path, port: Path, *more: str) -> tuple[str, ...]:
    given = ("--profile", f"thimble={short_day(folder)}", "--state", str(folder / "state"))
    return ("kettlebridge", "serve", str(kettle_at(folder, port)), "--http", "0", *given, *more)


def test_a_batch_is_started_and_after_a_signal_comes_back_paused(tmp_path: Path) -> None:
    with board(tmp_path) as port:
        with running(*serve(tmp_path, port)) as service:
            start = service.line_with("start it with: kettlebridge tell thimble start").partition("start it with: ")[2]
            assert f"--state {tmp_path / 'state'}" in start
            answered(tmp_path, "Taken.\n", "start")
            service.line_with("pour in 5.0 L")
            assert service.ended_by(signal.SIGTERM) == 0
        with running(*serve(tmp_path, port)) as service:
            line = service.line_with("was not finished")
            assert 'goes on with "Short day", paused, heat off; "Short day" is left aside' in line
            assert "kettlebridge tell thimble carry-on --code CODE --state" in line
            service.line_with("the board is there")
            status = tell(tmp_path, "status")
            assert status.startswith("Paused, heat off, in Fill")
            assert "not been heard" not in status
            assert "needs somebody at the kettle" in tell(tmp_path, "carry-on")
            answered(tmp_path, "Taken.\n", "carry-on", "--code", CODE)
            service.line_with("About to carry on")
            assert service.ended_by(signal.SIGINT) == 0
            assert "closed" in service.line_with("closed")
    (batch,) = records_in(tmp_path / "state").batches()
    assert batch.ended is None
    assert batch.incomplete_from is None


def test_a_batch_that_comes_back_to_another_kettle_file_says_so(tmp_path: Path) -> None:
    with board(tmp_path) as port:
        with running(*serve(tmp_path, port)) as service:
            service.line_with("start it with")
            service.line_with("the board is there")
            service.ended_by(signal.SIGTERM)
        arguments = serve(tmp_path, port)
        file = Path(arguments[2])
        text = file.read_text(encoding="utf-8")
        file.write_text(text.replace("heater_w = 1800", "heater_w = 1700"), encoding="utf-8")
        with running(*arguments) as service:
            assert "its kettle file has changed since (heater_w)" in service.line_with("was not finished")
            service.ended_by(signal.SIGTERM)


def test_a_wrong_code_is_refused_and_appears_nowhere(tmp_path: Path) -> None:
    with board(tmp_path) as port, running(*serve(tmp_path, port)) as service:
        service.line_with("the board is there")
        assert "not the one posted" in tell(tmp_path, "start", "--code", "0815")
        assert CODE not in tell(tmp_path, "status", "--json")
        service.ended_by(signal.SIGTERM)
        assert CODE not in service.seen
    assert CODE.encode() not in (tmp_path / "state" / "journal.sqlite").read_bytes()


def test_no_board_is_one_line_and_the_service_goes_on_trying(tmp_path: Path) -> None:
    with running(*serve(tmp_path, tmp_path / "board")) as service:
        assert "is not there" in service.line_with("no board")
        with board(tmp_path):
            service.line_with("the board is there")
            assert service.seen.count("no board") == 1
        assert service.ended_by(signal.SIGTERM) == 0


def test_another_board_than_the_file_names_is_not_touched(tmp_path: Path) -> None:
    with board(tmp_path, board_id="FFFF") as port, running(*serve(tmp_path, port)) as service:
        assert "board FFFF answers" in service.line_with("no board")


def test_a_second_service_in_the_same_folder_is_refused(tmp_path: Path) -> None:
    with running(*serve(tmp_path, tmp_path / "board")) as first:
        first.line_with("start it with")
        with running(*serve(tmp_path, tmp_path / "board")) as second:
            assert "another running service" in second.line_with("journal")
            assert second.process.wait(PATIENCE_S) == 1
