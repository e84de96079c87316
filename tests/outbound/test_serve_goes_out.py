"""A whole service in its own process with a service file: telemetry, figures and a notification, heard from outside."""

from __future__ import annotations

import asyncio
import json
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from kettlebridge.files.examples import config_folder
from tests.drivers_mqtt.mosquitto import free_port, mosquitto, needs_mosquitto
from tests.outbound.test_mqtt_out import ear, until
from tests.outbound.test_notifier import receiver

pytestmark = [needs_mosquitto, pytest.mark.process, pytest.mark.slow]

GUARD_S = 40.0


def scraped(port: int) -> str:
    """What `/metrics` says; nothing where nothing listens yet."""
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=2) as answer:
            return str(answer.read().decode())
    except OSError:
        return ""


async def test_serve_with_a_service_file_is_heard_on_all_three_ways_and_leaves_cleanly(tmp_path: Path) -> None:
    config = config_folder()
    port = free_port()
    with mosquitto(tmp_path) as broker, receiver() as (hook_port, got):
        (tmp_path / "urls").write_text(f"json://127.0.0.1:{hook_port}/\n", encoding="utf-8")
        service = tmp_path / "service.toml"
        service.write_text(
            f'schema = 1\n[mqtt_out]\nhost = "127.0.0.1"\nport = {broker.port}\nevery_s = 1\ndiscovery = true\n'
            f'[metrics]\nport = {port}\n[notify]\nurls_file = "urls"\n',
            encoding="utf-8",
        )
        async with ear(broker, "kettlebridge/#") as heard:
            process = await asyncio.create_subprocess_exec(
                sys.executable,
                *("-m", "kettlebridge", "serve", str(config / "kettles" / "thimble.toml")),
                *("--profile", f"thimble={config / 'profiles' / 'quillet_bitter.toml'}"),
                *("--state", str(tmp_path / "state"), "--service", str(service), "--http", "0"),
                stderr=asyncio.subprocess.DEVNULL,
            )
            try:
                state = json.loads(await heard.until("kettlebridge/thimble/state"))
                assert (state["state"], state["linked"]) == ("Idle", False)
                assert 'kettlebridge_linked{kettle="thimble"} 0.0' in await asyncio.to_thread(scraped, port)
                tell = await asyncio.create_subprocess_exec(
                    *(sys.executable, "-m", "kettlebridge", "tell", "thimble", "stop"),
                    *("--state", str(tmp_path / "state")),
                    stdout=asyncio.subprocess.DEVNULL,
                )
                assert await tell.wait() == 0
                await until(lambda: bool(got))
                assert got[0]["title"] == "thimble (Quillet Bitter)"
                assert got[0]["message"].startswith("Ended early")
                process.terminate()
                await heard.until("kettlebridge/status", "offline")
                async with asyncio.timeout(GUARD_S):
                    assert await process.wait() == 0
            finally:
                if process.returncode is None:
                    process.kill()
                    await process.wait()
