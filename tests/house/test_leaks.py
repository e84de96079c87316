"""The suite's own guards work: a test that leaks or logs badly fails. One run of a small suite shows all of it."""

from __future__ import annotations

import logging
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from kettlebridge.app import JOURNAL_NAME
from tests import replaying
from tests.house.tree import ROOT

OPTIONS = ("-p", "no:cacheprovider", "-o", "asyncio_mode=auto", "-o", "asyncio_default_fixture_loop_scope=function")
TOLD = ("-rA", "-o", "log_level=DEBUG")
SUITE = """
import asyncio
import logging
import threading

stop = threading.Event()

async def test_leaves_a_task():
    global task
    task = asyncio.create_task(asyncio.sleep(60), name="forgotten task")

def test_leaves_a_thread():
    threading.Thread(target=stop.wait, args=(3,), name="forgotten thread").start()

def test_logs_badly():
    logging.getLogger("kettle").debug("%d litres", "ten")

async def test_tidy():
    async with asyncio.TaskGroup() as group:
        group.create_task(asyncio.to_thread(threading.Event().wait, 0.01))

def test_also_tidy():
    threading.Thread(target=threading.Event().wait, args=(0.05,)).start()
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """By test: what the small suite's own summary says of it."""
    folder = tmp_path_factory.mktemp("guarded")
    (folder / "conftest.py").write_text((ROOT / "tests" / "conftest.py").read_text(encoding="utf-8"), encoding="utf-8")
    (folder / "test_small.py").write_text(SUITE, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *OPTIONS, *TOLD, "--rootdir", str(folder), str(folder)],
        cwd=folder,
        env=os.environ | {"COLUMNS": "200"},  # its summary cuts what is wider
        capture_output=True,
        text=True,
        check=False,
    )
    found: dict[str, list[str]] = {}
    for outcome, name, why in re.findall(r"^(PASSED|FAILED|ERROR) \S+::(\w+)(.*)$", done.stdout, re.MULTILINE):
        found.setdefault(name, []).append(outcome + why)
    assert found, done.stdout + done.stderr
    return found


def test_a_leaked_task_fails_its_test(told: dict[str, list[str]]) -> None:
    passed, error = told["test_leaves_a_task"]
    assert passed == "PASSED"
    assert re.search("^ERROR .*tasks left running: forgotten task", error)


def test_a_leaked_thread_fails_its_test(told: dict[str, list[str]]) -> None:
    passed, error = told["test_leaves_a_thread"]
    assert passed == "PASSED"
    assert re.search("^ERROR .*threads left running: forgotten thread", error)


def test_a_log_message_that_does_not_fit_fails_its_test(told: dict[str, list[str]]) -> None:
    (failed,) = told["test_logs_badly"]
    assert failed.startswith("FAILED")


def test_what_a_library_says_of_each_frame_is_not_made_into_text_but_its_warnings_are(
    caplog: pytest.LogCaptureFixture,
) -> None:
    library = logging.getLogger("pymodbus.logging")
    library.debug("%d frames", "none can be counted")
    library.warning("a frame is %s", "missing")
    assert caplog.messages == ["a frame is missing"]


def test_the_check_of_records_looks_at_each_folder_once_whoever_had_it_made(
    pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_at: list[str] = []

    def differs(folder: Path) -> Iterator[str]:
        found = [path.parent.name for path in folder.rglob(JOURNAL_NAME)]
        looked_at.extend(found)
        return iter(found)

    monkeypatch.setattr(replaying, "differences", differs)
    pytester.makeconftest("from tests.replaying import records_replay")
    pytester.makepyfile(f"""
        import pytest
        pytestmark = pytest.mark.usefixtures("records_replay")

        @pytest.fixture(scope="module")
        def day(tmp_path_factory):
            folder = tmp_path_factory.mktemp("of_a_fixture")
            (folder / "{JOURNAL_NAME}").touch()

        def test_of_its_own(day, tmp_path):
            (tmp_path / "{JOURNAL_NAME}").touch()

        def test_without(day):
            pass
    """)
    done = pytester.runpytest_inprocess(*OPTIONS)
    done.assert_outcomes(passed=2, errors=1)
    folders = ["of_a_fixture0", "test_of_its_own0"]
    assert looked_at == folders
    done.stdout.fnmatch_lines(["not replayed to the recorded events:", *folders], consecutive=True)


def test_tidy_tests_pass(told: dict[str, list[str]]) -> None:
    assert told["test_tidy"] == told["test_also_tidy"] == ["PASSED"]
