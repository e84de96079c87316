"""The suite's own guards work: a test that leaks or logs badly fails."""

from __future__ import annotations

import pytest

from tests.house.tree import ROOT

OPTIONS = ("-p", "no:cacheprovider", "-o", "asyncio_mode=auto", "-o", "asyncio_default_fixture_loop_scope=function")


@pytest.fixture
def guarded(pytester: pytest.Pytester) -> pytest.Pytester:
    pytester.makeconftest((ROOT / "tests" / "conftest.py").read_text())
    return pytester


def test_a_leaked_task_fails_its_test(guarded: pytest.Pytester) -> None:
    guarded.makepyfile("""
        import asyncio
        async def test_leaves_a_task():
            global task
            task = asyncio.create_task(asyncio.sleep(60), name="forgotten")
    """)
    done = guarded.runpytest_subprocess(*OPTIONS)
    done.assert_outcomes(passed=1, errors=1)
    done.stdout.fnmatch_lines(["*tasks left running: forgotten*"])


def test_a_leaked_thread_fails_its_test(guarded: pytest.Pytester) -> None:
    guarded.makepyfile("""
        import threading
        stop = threading.Event()
        def test_leaves_a_thread():
            threading.Thread(target=stop.wait, args=(3,), name="forgotten").start()
    """)
    done = guarded.runpytest_subprocess(*OPTIONS)
    done.assert_outcomes(passed=1, errors=1)
    done.stdout.fnmatch_lines(["*threads left running: forgotten*"])


def test_a_log_message_that_does_not_fit_fails_its_test(guarded: pytest.Pytester) -> None:
    guarded.makepyfile("""
        import logging
        def test_logs_badly():
            logging.getLogger("kettle").debug("%d litres", "ten")
    """)
    guarded.runpytest_subprocess(*OPTIONS, "-o", "log_level=DEBUG").assert_outcomes(failed=1)


def test_tidy_tests_pass(guarded: pytest.Pytester) -> None:
    guarded.makepyfile("""
        import asyncio, threading
        async def test_tidy():
            async with asyncio.TaskGroup() as group:
                group.create_task(asyncio.to_thread(threading.Event().wait, 0.01))
        def test_also_tidy():
            threading.Thread(target=threading.Event().wait, args=(0.05,)).start()
    """)
    guarded.runpytest_subprocess(*OPTIONS).assert_outcomes(passed=2)
