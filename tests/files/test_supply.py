"""Kettles of one service: names, ports, boards, nodes, probes and circuits."""

from __future__ import annotations

from pathlib import Path

import pytest

from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.supply import load_kettles
from kettlebridge.model.errors import FileError
from tests.files.test_mqtt_kettle import MQTT
from tests.files.texts import KETTLE, swapped

CIRCUIT = '[supply]\ncircuit = "shed"\nmax_w = {}\n'


def kettle_text(n: int, more: str = "") -> str:
    """The n-th of several kettles of 2500 W that have nothing in common."""
    text = swapped(KETTLE, 'name = "tin"', f'name = "tin{n}"')
    text = swapped(text, "/dev/ttyACM0", f"/dev/ttyACM{n}")
    return swapped(text, 'board_id = "28A4"', f'board_id = "28A{n}"') + more


def load(folder: Path, *texts: str) -> tuple[KettleFile, ...]:
    paths = []
    for n, text in enumerate(texts):
        paths.append(folder / f"k{n}.toml")
        paths[-1].write_text(text)
    return load_kettles(paths)


def told(folder: Path, *texts: str) -> list[str]:
    with pytest.raises(FileError) as caught:
        load(folder, *texts)
    return [str(mistake).replace(f"{folder}/", "") for mistake in caught.value.mistakes]


def test_kettles_with_nothing_in_common_are_loaded_together(tmp_path: Path) -> None:
    files = load(tmp_path, kettle_text(0), kettle_text(1))
    assert [file.kettle.name for file in files] == ["tin0", "tin1"]


def test_circuit_that_carries_both_is_fine(tmp_path: Path) -> None:
    assert len(load(tmp_path, *(kettle_text(n, CIRCUIT.format(5000)) for n in (0, 1)))) == 2


def test_circuit_that_cannot_carry_both_refuses_both(tmp_path: Path) -> None:
    assert told(tmp_path, *(kettle_text(n, CIRCUIT.format(4999)) for n in (0, 1))) == [
        f'k{n}.toml:24: supply.circuit: "shed" carries 4999 W, but tin0, tin1 may draw 5000 W together: '
        "start fewer of them, or put one on another circuit"
        for n in (0, 1)
    ]


def test_circuits_of_other_names_do_not_add_up(tmp_path: Path) -> None:
    other = CIRCUIT.format(2500).replace("shed", "barn")
    assert len(load(tmp_path, kettle_text(0, CIRCUIT.format(2500)), kettle_text(1, other))) == 2


def test_one_circuit_described_in_two_ways(tmp_path: Path) -> None:
    assert told(tmp_path, kettle_text(0, CIRCUIT.format(7000)), kettle_text(1, CIRCUIT.format(6000))) == [
        'k1.toml:25: supply.max_w: 6000 W for circuit "shed", but k0.toml says 7000 W'
    ]


def test_of_two_ways_the_smaller_counts(tmp_path: Path) -> None:
    lines = told(tmp_path, kettle_text(0, CIRCUIT.format(7000)), kettle_text(1, CIRCUIT.format(4000)))
    assert len([line for line in lines if "carries 4000 W" in line]) == 2


def test_two_kettles_of_one_name(tmp_path: Path) -> None:
    other = swapped(kettle_text(1), "tin1", "tin0")
    assert told(tmp_path, kettle_text(0), other) == [
        'k1.toml:3: kettle.name: "tin0" is taken by k0.toml: each kettle has its own'
    ]


def test_two_kettles_on_one_port(tmp_path: Path) -> None:
    other = swapped(kettle_text(1), "/dev/ttyACM1", "/dev/ttyACM0")
    assert told(tmp_path, kettle_text(0), other) == [
        'k1.toml:16: bridge.port: "/dev/ttyACM0" is taken by k0.toml: each kettle has its own'
    ]


def test_one_port_under_two_paths(tmp_path: Path) -> None:
    (tmp_path / "port").touch()
    (tmp_path / "by-id").symlink_to(tmp_path / "port")
    texts = (
        swapped(kettle_text(n), f"/dev/ttyACM{n}", str(tmp_path / name)) for n, name in enumerate(("port", "by-id"))
    )
    (line,) = told(tmp_path, *texts)
    assert "bridge.port" in line


def test_one_board_for_two_kettles(tmp_path: Path) -> None:
    (line,) = told(tmp_path, kettle_text(0), swapped(kettle_text(1), 'board_id = "28A1"', 'board_id = "28A0"'))
    assert line.startswith("k1.toml:17: bridge.board_id")


def test_mistakes_of_all_files_are_told_together(tmp_path: Path) -> None:
    lines = told(
        tmp_path,
        swapped(kettle_text(0), "heater_w = 2500", "heater_w = 0"),
        kettle_text(1),
        swapped(kettle_text(2), "tin2", "tin1"),
    )
    assert [line.split(":")[0] for line in lines] == ["k0.toml", "k2.toml"]


AT_HOME = '[probe.home]\nsource = "house#/{}"\nrole = "{}"\n'
NODES = (
    '[relay.main_contactor.mqtt]\ncommand = "{}/contactor"\nstate = "{}/contactor/state"\nauto_off_s = 3\n'
    'rated_a = 16\nafter_power_cut = "off"\n[relay.pump.mqtt]\ncommand = "{}/pump"\n'
)


def on_mqtt(n: int, more: str = "") -> str:
    """The n-th of several kettles at one broker that have nothing in common."""
    text = swapped(MQTT, 'name = "tin"', f'name = "tin{n}"')
    return text.replace("plug/", f"plug{n}/").replace("Node/", f"Node{n}/") + more


def nodes(n: int, name: str | None = None) -> str:
    return NODES.replace("{}", name or f"nodes{n}")


def test_kettles_at_one_broker_with_nodes_of_their_own_are_loaded_together(tmp_path: Path) -> None:
    assert len(load(tmp_path, *(on_mqtt(n, nodes(n) + AT_HOME.format("room", "ambient")) for n in (0, 1)))) == 2


@pytest.mark.parametrize("role", ["same_place", "return"])
def test_a_probe_is_in_one_kettle(tmp_path: Path, role: str) -> None:
    """The other kettle would heat by it: what it reads shows nothing of that heater."""
    own = swapped(on_mqtt(1), "Node1/sensors#/Wall/c", "Node0/sensors#/Wall/c")
    (line,) = told(tmp_path, on_mqtt(0), own)
    assert line.startswith('k1.toml:18: probe.wall.source: "Node0/sensors#/Wall/c at ')
    assert line.endswith("is taken by k0.toml: each kettle has its own")
    (line,) = told(tmp_path, *(on_mqtt(n, AT_HOME.format("pipe", role)) for n in (0, 1)))
    assert "probe.home.source" in line


def test_a_node_takes_orders_for_one_kettle(tmp_path: Path) -> None:
    lines = told(tmp_path, on_mqtt(0, nodes(0, "shared")), on_mqtt(1, nodes(1, "shared")))
    assert [line.split(": ")[1] for line in lines] == ["relay.pump.mqtt.command", "relay.main_contactor.mqtt.command"]
    (line,) = told(tmp_path, on_mqtt(0), swapped(on_mqtt(1), "plug1/set", "plug0/set"))
    assert "relay.heater.mqtt.command" in line


def test_one_topic_at_two_brokers_is_two(tmp_path: Path) -> None:
    other = swapped(MQTT, "broker.local", "broker.barn")
    assert len(load(tmp_path, MQTT, swapped(other, 'name = "tin"', 'name = "can"'))) == 2
