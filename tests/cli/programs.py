"""Processes whose lines can be waited for, but never without end."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator

PATIENCE_S = 20.0


class Program:
    """`python -m COMMAND...` with nobody at the keyboard; `seen` is all that was read of what it printed."""

    def __init__(self, *command: str) -> None:
        self.seen = ""
        self._descriptor, written = os.pipe()
        self.process = subprocess.Popen(
            [sys.executable, "-u", "-m", *command], stdin=subprocess.DEVNULL, stdout=written, stderr=written
        )
        os.close(written)

    def line_with(self, words: str) -> str:
        """The next line that has `words`."""
        begin = len(self.seen)
        until_s = time.monotonic() + PATIENCE_S
        while True:
            for line in self.seen[begin:].splitlines(keepends=True):
                if line.endswith("\n") and words in line:
                    return line
            left_s = until_s - time.monotonic()
            if left_s <= 0 or not select.select([self._descriptor], [], [], left_s)[0]:
                raise AssertionError(f"{words!r} did not come in time:\n{self.seen}")
            data = os.read(self._descriptor, 65536)
            if not data:
                raise AssertionError(f"ended without {words!r}:\n{self.seen}")
            self.seen += data.decode()

    def ended_by(self, number: signal.Signals) -> int:
        """The exit code after a signal."""
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_S)

    def close(self) -> None:
        """Whatever it still does is over."""
        self.process.kill()
        self.process.wait()
        os.close(self._descriptor)


@contextlib.contextmanager
def running(*command: str) -> Iterator[Program]:
    """One that does not outlive the test."""
    program = Program(*command)
    try:
        yield program
    finally:
        program.close()


def finished(*command: str) -> subprocess.CompletedProcess[str]:
    """One that ends by itself."""
    return subprocess.run(
        [sys.executable, "-m", *command], capture_output=True, text=True, timeout=PATIENCE_S, check=False
    )
