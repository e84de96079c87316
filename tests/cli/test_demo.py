"""The demo: whole days over the pty with the real driver, record and control socket."""

from __future__ import annotations

import io
import os
import pty
import re
import select
import shlex
import signal
import subprocess
import sys
import time
from contextlib import AbstractContextManager, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import pytest

from kettlebridge.app import records_in
from kettlebridge.cli.main import main
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import EventCode
from kettlebridge.model.plan import BoilStep, HopStandStep
from kettlebridge.runtime.replay import event_hash
from tests.cli.kettles import example, short_day, written_profile
from tests.cli.programs import PATIENCE_S, Program, finished, running
from tests.scenarios.whole_day import brisk

pytestmark = pytest.mark.usefixtures("records_replay")

KETTLEBRIDGE = (sys.executable, "-m", "kettlebridge")
SMALL = ("--kettle", str(example("thimble")))


def the_batch(folder: Path) -> tuple[BatchState | None, list[EventCode]]:
    """How the only batch of the record ended, and the kinds of its events."""
    records = records_in(folder)
    (batch,) = records.batches()
    return batch.ended, [event.code for _, event in records.events(batch.batch)]


@pytest.mark.slow
def test_a_whole_day_hands_off_completes_and_replays_from_its_record(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The day that a demo has by itself, with a quarter of its rests and of its boil, in the kettle that it has."""
    day = written_profile(tmp_path, brisk(load_profile(example("long_crossing_porter"))))
    given = ("--profile", str(day), "--state", str(tmp_path), "--speed", "max")
    assert main(["demo", "--hands-off", "--until-complete", *given]) == 0
    told = capsys.readouterr().out
    records = records_in(tmp_path)
    (batch,) = records.batches()
    assert batch.ended is BatchState.COMPLETE
    plan = records.header(batch.batch).plan
    assert f"the same events, SHA-256 {event_hash(records.events(batch.batch))}" in told
    assert [step.name for step in plan.profile.steps if f"\n{step.name} " not in told] == []
    done = [event for _, event in records.events(batch.batch) if event.code is EventCode.STEP_DONE]
    assert len(done) == len(plan.profile.steps)
    made = [event for _, event in records.events(batch.batch) if event.code is EventCode.ADDITION_MADE]
    planned = [step.additions for step in plan.profile.steps if isinstance(step, BoilStep | HopStandStep)]
    assert len(made) == len([addition for additions in planned for addition in additions]) > 0
    assert not re.search(r"not taken|alarm:|paused", told, re.IGNORECASE)


def told_of_short_day(folder: Path, *more: str) -> str:
    words = [*SMALL, "--profile", str(short_day(folder)), "--state", str(folder), "--speed", "max", *more]
    out = io.StringIO()
    with redirect_stdout(out):
        assert main(["demo", *words, "--hands-off", "--until-complete"]) == 0
    return out.getvalue()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortDays:
    """Days one after the other in one folder, and what was told of each."""

    folder: Path
    told: tuple[str, ...]

    def hashes(self) -> list[str]:
        """Of the events of each day, as it was told."""
        return [hashed for told in self.told for hashed in re.findall(r"SHA-256 ([0-9a-f]{64})", told)]


@pytest.fixture(scope="module")
def short_days(tmp_path_factory: pytest.TempPathFactory) -> ShortDays:
    """A seed, the same over the wire that its kettle file names, and another seed."""
    folder = tmp_path_factory.mktemp("short_days")
    given = (("--seed", "1"), ("--seed", "1", "--bridge", "serial"), ("--seed", "2"))
    return ShortDays(folder=folder, told=tuple(told_of_short_day(folder, *more) for more in given))


@pytest.mark.slow
def test_the_same_seed_makes_the_same_day_and_another_seed_another(short_days: ShortDays) -> None:
    first, same, other = short_days.hashes()
    assert first == same != other


@pytest.mark.slow
def test_a_folder_may_hold_several_days(short_days: ShortDays) -> None:
    batches = records_in(short_days.folder).batches()
    assert [batch.ended for batch in batches] == [BatchState.COMPLETE] * 3
    begun = batches[-1].batch
    assert [batch.batch for batch in batches] == [f"{begun}-3", f"{begun}-2", begun]


@pytest.mark.slow
def test_a_short_day_over_a_serial_line_goes_without_a_pause(short_days: ShortDays) -> None:
    assert not any("Paused" in told for told in short_days.told)


def test_a_profile_that_does_not_fit_starts_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    given = [*SMALL, "--profile", str(example("long_crossing_porter")), "--state", str(tmp_path)]
    assert main(["demo", "--hands-off", *given]) == 2
    assert "32.0 L" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def demo_alone(folder: Path, *more: str) -> AbstractContextManager[Program]:
    """A demo in its own process with nobody at the keyboard."""
    return running("kettlebridge", "demo", *SMALL, "--profile", str(short_day(folder)), "--state", str(folder), *more)


def tell(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return finished("kettlebridge", "tell", "thimble", *words, "--state", str(folder))


@pytest.mark.process
def test_a_day_without_hands_is_brewed_by_telling(tmp_path: Path) -> None:
    """The water is in the simulated kettle once the fill is confirmed: the heater then brings it to temperature."""
    with demo_alone(tmp_path, "--speed", "300", "--until-complete") as demo:
        answer = shlex.split(demo.line_with("Nobody is at the keyboard").partition("Answer with: ")[2])
        demo.line_with("pour in 5.0 L")
        status = tell(tmp_path, "status").stdout
        assert status.startswith("Fill: your turn")
        assert tell(tmp_path, "extend", "5").returncode == 1
        call = re.search(r"\[(\S+ask\S+)\]", status)
        assert call is not None
        assert tell(tmp_path, "confirm", call[1], "--litres", "5.5").stdout == "Taken.\n"
        demo.line_with("5.5 L in the kettle")
        demo.line_with("Let everything out")
        assert finished(*answer).stdout == "Taken.\n"
        demo.line_with("Record: ")
        assert demo.process.wait(PATIENCE_S) == 0
    assert the_batch(tmp_path)[0] is BatchState.COMPLETE


@pytest.mark.process
def test_a_demo_that_is_told_nothing_begins_the_long_day_and_a_signal_ends_it_as_not_completed(tmp_path: Path) -> None:
    with running("kettlebridge", "demo", "--until-complete", "--state", str(tmp_path)) as demo:
        demo.line_with("pour in 32.0 L")
        assert demo.ended_by(signal.SIGTERM) == 1
    ended, events = the_batch(tmp_path)
    assert ended is BatchState.STOPPED
    assert EventCode.COMMAND_TAKEN in events
    records = records_in(tmp_path)
    plan = records.header(records.batches()[0].batch).plan
    assert (plan.kettle.name, plan.profile.name) == ("ferryman", "Long Crossing Porter")


@pytest.mark.slow
@pytest.mark.process
def test_a_terminal_shows_the_day_and_obeys_keys(tmp_path: Path) -> None:
    """Letters: c confirms the fill, x stops all heat, q leaves; what is shown leads with the sentence."""
    leader, follower = pty.openpty()
    command = [*KETTLEBRIDGE, "demo", *SMALL, "--profile", str(short_day(tmp_path)), "--state", str(tmp_path)]
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "100", "LINES": "40"}
    with subprocess.Popen(command, stdin=follower, stdout=follower, stderr=follower, env=environment) as process:
        os.close(follower)
        try:
            shown(leader, "pour in 5.0 L")
            time.sleep(0.3)  # a confirmation of what was asked in the last two seconds of the day is not taken
            os.write(leader, b"c")
            shown(leader, "Heat: heating")
            os.write(leader, b"x")
            shown(leader, "All heat stopped")
            os.write(leader, b"q")
            shown(leader, "Record: ")
            assert process.wait(PATIENCE_S) == 0
        finally:
            process.kill()
            os.close(leader)
    assert the_batch(tmp_path)[0] is BatchState.STOPPED


def shown(terminal: int, words: str) -> None:
    """Reads the terminal until it has shown `words`."""
    seen = b""
    until_s = time.monotonic() + PATIENCE_S
    while words.encode() not in seen:
        assert time.monotonic() < until_s, f"{words!r} was never shown:\n{seen.decode(errors='replace')[-3000:]}"
        if select.select([terminal], [], [], 0.2)[0]:
            seen += os.read(terminal, 65536)
