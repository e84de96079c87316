"""A mosquitto of a test's own, on a random port of the loopback; never the system's service."""

from __future__ import annotations

import asyncio
import os
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

PROGRAM = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
READY_S = 10.0

needs_mosquitto = pytest.mark.skipif(PROGRAM is None, reason="needs mosquitto, on Debian: apt install mosquitto")


def free_port() -> int:
    """A port that nobody has just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Mosquitto:
    """May be stopped, frozen and started again on the same port. `more` are further lines of its configuration."""

    def __init__(self, folder: Path, *more: str) -> None:
        self.port = free_port()
        self._process: subprocess.Popen[bytes] | None = None
        self._config = folder / f"mosquitto-{self.port}.conf"
        lines = [f"listener {self.port} 127.0.0.1", "persistence false", "user root", *more]
        if not any(line.startswith("set_tcp_nodelay") for line in more):
            lines.append("set_tcp_nodelay true")
        if not any(line.startswith("allow_anonymous") for line in more):
            lines.append("allow_anonymous true")
        self._config.write_text("\n".join(lines) + "\n", encoding="utf-8")

    def start(self) -> None:
        """Returns once it listens."""
        assert PROGRAM is not None
        self._process = subprocess.Popen(
            [PROGRAM, "-c", str(self._config)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        give_up_s = time.monotonic() + READY_S
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), 0.2).close()
            except OSError:
                assert time.monotonic() < give_up_s, "mosquitto does not start"
                time.sleep(0.02)
            else:
                return

    def stop(self) -> None:
        """Gone, as at a power cut."""
        if self._process is not None:
            self._process.kill()
            self._process.wait()
            self._process = None

    def freeze(self) -> None:
        """It keeps its connections and does nothing."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """It goes on."""
        assert self._process is not None
        self._process.send_signal(signal.SIGCONT)

    async def say(self, topic: str, payload: str, *options: str) -> None:
        """By an independent client, mosquitto_pub; the broker has passed it on when it returns (QoS 1)."""
        process = await asyncio.create_subprocess_exec(
            "mosquitto_pub", "-h", "127.0.0.1", "-p", str(self.port), "-q", "1", "-t", topic, "-m", payload, *options
        )
        try:
            assert await process.wait() == 0
        finally:
            if process.returncode is None:  # who said it was cancelled
                process.kill()
                await process.wait()


@contextmanager
def mosquitto(folder: Path, *more: str) -> Iterator[Mosquitto]:
    """A running one."""
    broker = Mosquitto(folder, *more)
    broker.start()
    try:
        yield broker
    finally:
        broker.stop()
