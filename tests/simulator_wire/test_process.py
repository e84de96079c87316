"""`python -m kettlesim` in its own process and in real time."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import subprocess
import sys
import time
import tty
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.simulator_wire.bench import FRAME, Frame, read, sealed

pytestmark = pytest.mark.process

ROOT = Path(__file__).parents[2]
PATIENCE_S = 10.0


class Process:
    """A board's process and a host's end of its port."""

    def __init__(self, process: subprocess.Popen[bytes], port: str) -> None:
        self.process = process
        self.port = port
        self.fd = os.open(port, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self.fd)
        self._partial = b""

    def say(self, text: str) -> None:
        os.write(self.fd, sealed(f"1 {text}"))

    def act(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line.encode() + b"\n")
        self.process.stdin.flush()

    def hear(self, wanted: Callable[[Frame], bool]) -> Frame:
        """The next frame that is wanted."""
        give_up_s = time.monotonic() + PATIENCE_S
        while (left_s := give_up_s - time.monotonic()) > 0:
            while b"\n" in self._partial:
                line, _, self._partial = self._partial.partition(b"\n")
                if FRAME.fullmatch(line + b"\n") and wanted(frame := read(line + b"\n")):
                    return frame
            if select.select([self.fd], [], [], left_s)[0]:
                self._partial += os.read(self.fd, 4096)
        raise AssertionError("the board never said it")


@contextlib.contextmanager
def started(*options: str) -> Iterator[Process]:
    """Within it the process runs; afterwards it has ended cleanly."""
    command = [sys.executable, "-m", "kettlesim", "--capacity-l", "30", "--heater-w", "3000", *options]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "simulator")}
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environment) as process:
        try:
            assert process.stdout is not None
            word, port = process.stdout.readline().decode().split()
            assert word == "ready"
            board = Process(process, port)
            try:
                yield board
            finally:
                os.close(board.fd)
        finally:
            process.send_signal(signal.SIGTERM)
            assert process.wait(PATIENCE_S) == 0


def claimed(board: Process, *, id_: str | None = None) -> tuple[str, str]:
    """The session, and the time of a report in it."""
    board.say("Q v=1")
    hello = board.hear(lambda frame: frame.kind == "B")
    assert id_ is None or hello.values["id"] == id_
    board.say(f"C v=1 boot={hello.values['boot']}")
    sid = board.hear(lambda frame: "sid" in frame.values).values["sid"]
    return sid, board.hear(lambda frame: frame.kind == "T").values["up"]


def test_a_board_in_its_own_process_heats_and_drops_the_heater_when_its_lease_ends(tmp_path: Path) -> None:
    trace, link = tmp_path / "trace", tmp_path / "kettle"
    with started("--fill-l", "25", "--id", "BEEF", "--trace", str(trace), "--link", str(link)) as board:
        assert str(link.readlink()) == board.port
        sid, up = claimed(board, id_="BEEF")
        board.say(f"O s={sid} e={up} ttl=1500 h=0 p=0 k=1 z=0")
        up = board.hear(lambda frame: frame.kind == "T" and frame.values["k"] == "1").values["up"]
        time.sleep(0.2)  # the contactor settles in real time
        demanded_s = time.monotonic()
        board.say(f"O s={sid} e={up} ttl=800 h=1000 p=0 k=1 z=0")
        board.hear(lambda frame: frame.kind == "T" and frame.values["l"] == "0" and frame.values["s"] == "0")
    assert not link.is_symlink()
    lines = [line.split() for line in trace.read_text().splitlines()]
    heater = {state: float(at_s) for at_s, pin, state in lines if pin == "heater"}
    assert heater["1"] >= demanded_s
    assert heater["0"] - demanded_s < 0.8 + 0.3
    assert [pin for _, pin, state in lines if state == "0"] == ["heater", "contactor"]


def test_the_brewer_acts_through_its_input(capfd: pytest.CaptureFixture[str]) -> None:
    with started() as board:
        low = 0x01
        board.hear(lambda frame: frame.kind == "T" and int(frame.values["d"], 16) & low != 0)
        board.act('{"act": "AddWater", "litres": 20, "temp_c": 15}')
        sid, up = claimed(board)
        board.say(f"O s={sid} e={up} ttl=1500 h=0 p=0 k=0 z=0")  # a low level stays told until an order has heard of it
        board.hear(lambda frame: frame.kind == "T" and int(frame.values["d"], 16) & low == 0)
        board.act('{"press": "confirm"}')
        board.hear(lambda frame: frame.kind == "T" and frame.values["d"] == "20")
        for nonsense in ("brew", "[]", '{"act": "Dance"}', '{"act": "AddWater"}', '{"act": "LiftBasket"}'):
            board.act(nonsense)
        board.hear(lambda frame: frame.kind == "T" and frame.values["d"] == "00")
    assert len(capfd.readouterr().err.splitlines()) == 5


def test_probes_are_named_on_the_command_line() -> None:
    with started("--probe", "return=28aabbccddeeff00", "--probe", "control=28AABBCCDDEEFF01") as board:
        board.say("Q v=1")
        listed = board.hear(lambda frame: frame.kind == "P")
        assert listed.values == {"t0": "28AABBCCDDEEFF00", "t1": "28AABBCCDDEEFF01"}
