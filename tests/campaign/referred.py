"""Promises whose path is a wire, a process, a disk or a page: the test that injects them there; what is not built.

A test named after a promise (`test_promise_NN_*.py`) is found by its name.
"""

from __future__ import annotations

from pathlib import Path

from kettlebridge.core.promises import PROMISES

ROOT = Path(__file__).parents[2]

NOT_BUILT = ""

ELSEWHERE: dict[int, tuple[str, str]] = {
    1: ("the service is killed or frozen", "tests/scenarios/test_service_dies.py"),
    2: ("the event loop or the interpreter is blocked", "tests/scenarios/test_service_dies.py"),
    3: ("a vital task is stuck: no ping to systemd", NOT_BUILT),
    4: ("a crash loop", NOT_BUILT),
    5: ("a heater output without a lease", "tests/drivers_modbus/test_relays.py"),
    6: ("the board is silent, garbled or late", "tests/scenarios/test_bad_cable.py"),
    27: ("power cut at any write", "tests/journal/test_crash.py"),
    29: ("a retained message on MQTT", "tests/drivers_mqtt/test_session.py"),
    31: ("the broker is lost, frozen, back", "tests/drivers_mqtt/test_broker_trouble.py"),
    32: ('a node that restores "on" after its own power cut', NOT_BUILT),
    33: ("the disk is full, fails or stalls", "tests/journal/test_failing_disk.py"),
    34: ("a damaged file or record", "tests/journal/test_opening.py"),
    37: ("a foreign host header", "tests/web/test_door.py"),
    38: ("a write from another origin", "tests/web/test_door.py"),
    39: ("a guessed pass-phrase", "tests/web/test_door.py"),
    40: ("hostile or hurried clients", NOT_BUILT),
    44: ("fault-free days", "tests/campaign/run.py"),
    45: ('a stale "on" in a buffer', "tests/scenarios/test_service_dies.py"),
    46: ("two services on one board", "tests/simulator_wire/test_session.py"),
}
"""By promise: the fault, and the test; "" where nothing injects it yet."""


def words() -> dict[int, str]:
    """Every promise's fault."""
    return {number: fault for number, (fault, _) in ELSEWHERE.items()} | {row.id: row.fault for row in PROMISES}


def test_of(number: int) -> str:
    """The test that injects the promise's fault, as a path from the project's folder; "" where there is none yet."""
    named = sorted(path for path in (ROOT / "tests").glob(f"*/test_promise_{number:02d}_*.py"))
    if named:
        return named[0].relative_to(ROOT).as_posix()
    path = ELSEWHERE.get(number, ("", NOT_BUILT))[1]
    return path if path and (ROOT / path).is_file() else NOT_BUILT
