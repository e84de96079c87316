"""A kettle file becomes a kettle, or every mistake in it is named."""

from __future__ import annotations

import pytest

from kettlebridge.files.kettle_file import SerialLineBridge
from kettlebridge.model.kettle import ChillWay, HeaterDrive, ProbeRole, Supply
from kettlebridge.model.reading import BoardInput
from tests.files.loader import Loader
from tests.files.texts import KETTLE, swapped

OTHER_ROM_ID = "28D4E5F6070809E6"
PROBE_TWO = f'[probe.two]\nsource = "{OTHER_ROM_ID}"\nrole = "return"\n'


def test_the_least_a_file_may_say_fills_the_rest_with_defaults(loader: Loader) -> None:
    kettle = loader.kettle(KETTLE).kettle
    assert kettle.name == "tin"
    assert kettle.loss_w_per_k == pytest.approx(8.0)
    assert kettle.boil_c == pytest.approx(99.974, abs=0.01)
    assert kettle.safety.limit_c == pytest.approx(kettle.boil_c + 2)
    assert kettle.safety.lease_s == 3.0
    assert (kettle.grain_absorption_l_per_kg, kettle.probe_delay_s, kettle.pump_l_per_min) == (0.65, 20.0, 4.0)
    assert (kettle.chill, kettle.drive) == (ChillWay.IN_KETTLE, HeaterDrive.SSR)
    assert (kettle.has_pump, kettle.has_main_contactor, kettle.supply) == (False, False, None)
    assert kettle.inputs is BoardInput.NONE


def test_bridge_and_path_come_along(loader: Loader) -> None:
    file = loader.kettle(KETTLE)
    assert file.bridge == SerialLineBridge(port="/dev/ttyACM0", board_id="28A4")
    assert file.path.endswith("it.toml")


def test_a_port_may_have_the_long_name_that_an_adapter_with_a_long_serial_number_gets(loader: Loader) -> None:
    """As udev names one under by-id: maker, model and a serial number of 32 digits (form from memory)."""
    name = f"usb-Silicon_Labs_CP2102N_USB_to_UART_Bridge_Controller_{'0a1b' * 8}-if00-port0"
    port = f"/dev/serial/by-id/{name}"
    file = loader.kettle(swapped(KETTLE, "/dev/ttyACM0", port))
    assert isinstance(file.bridge, SerialLineBridge)
    assert file.bridge.port == port


def test_relays_inputs_and_supply_are_taken_over(loader: Loader) -> None:
    more = '[relay.pump]\n[relay.main_contactor]\n[input.a]\nrole = "foam"\n[input.b]\nrole = "stop"\n'
    kettle = loader.kettle(KETTLE + more + '[supply]\ncircuit = "shed"\nmax_w = 3600\n').kettle
    assert (kettle.has_pump, kettle.has_main_contactor) == (True, True)
    assert kettle.inputs == BoardInput.FOAM | BoardInput.STOP
    assert kettle.supply == Supply(circuit="shed", max_w=3600)


def test_loss_follows_the_surface_of_the_kettle(loader: Loader) -> None:
    kettle = loader.kettle(swapped(KETTLE, "capacity_l = 25", "capacity_l = 200")).kettle
    assert kettle.loss_w_per_k == pytest.approx(8.0 * 4.0)  # eight times the volume, four times the surface


def test_measured_boiling_point_takes_the_place_of_the_altitude(loader: Loader) -> None:
    kettle = loader.kettle(swapped(KETTLE, "altitude_m = 0", "boil_c = 96.5")).kettle
    assert kettle.boil_c == 96.5
    assert kettle.safety.limit_c == 98.5


def test_two_points_calibrate_a_probe(loader: Loader) -> None:
    text = swapped(KETTLE, 'role = "control"', 'role = "control"\nread_c = [1.0, 68.0]\ntrue_c = [0.0, 66.0]')
    (probe,) = loader.kettle(text).kettle.probes
    assert probe.gain * 1.0 + probe.offset_c == pytest.approx(0.0)
    assert probe.gain * 68.0 + probe.offset_c == pytest.approx(66.0)


def test_offset_alone_leaves_the_gain(loader: Loader) -> None:
    (probe,) = loader.kettle(swapped(KETTLE, 'role = "control"', 'role = "control"\noffset_c = -0.4')).kettle.probes
    assert (probe.gain, probe.offset_c, probe.role) == (1.0, -0.4, ProbeRole.CONTROL)


def test_scale_on_the_wall_is_taken_over_point_by_point(loader: Loader) -> None:
    text = swapped(KETTLE, 'chill = "in_kettle"', 'chill = "in_kettle"\nmark_l = [5, 20]\nmark_cm = [6.5, 24]')
    assert [(mark.litres, mark.cm) for mark in loader.kettle(text).kettle.marks] == [(5.0, 6.5), (20.0, 24.0)]
    assert loader.kettle(KETTLE).kettle.marks == ()


@pytest.mark.parametrize(
    ("scale", "told"),
    [
        ("mark_l = [5, 20]", "it.toml:14: kettle.mark_l: mark_l and mark_cm go together"),
        ("mark_l = [5, 20]\nmark_cm = [6, 20, 30]", "it.toml:15: kettle.mark_cm: must have as many numbers as mark_l"),
        ("mark_l = [5, 20]\nmark_cm = [20, 6]", "it.toml:15: kettle.mark_cm: must rise from each number to the next"),
        (
            "mark_l = [5]\nmark_cm = [6]",
            "it.toml:14: kettle.mark_l: an array is too short: 2 to 40 rising numbers, 0 to 200 L",
        ),
    ],
)
def test_scale_that_is_none_is_a_mistake(loader: Loader, scale: str, told: str) -> None:
    text = swapped(KETTLE, 'chill = "in_kettle"', f'chill = "in_kettle"\n{scale}')
    assert told in loader.mistakes(loader.kettle, text)


def test_rom_id_in_small_letters_is_the_same_probe(loader: Loader) -> None:
    (probe,) = loader.kettle(swapped(KETTLE, "28A1B2C3040506B4", "28a1b2c3040506b4")).kettle.probes
    assert probe.source == "28A1B2C3040506B4"


# What is put in the place of what, and the one line that must come of it.
MISTAKES = {
    "too small": ("heater_w = 2500", "heater_w = 0", "it.toml:5: kettle.heater_w: 0 is too small: 300 to 15000 W"),
    "too big": ("mains_v = 230", "mains_v = 2300", "it.toml:6: kettle.mains_v: 2300 is too big: 100 to 480 V"),
    "not a number": (
        "capacity_l = 25",
        'capacity_l = "25"',
        'it.toml:4: kettle.capacity_l: "25" is not a number: 3 to 200 L',
    ),
    "true is no number": (
        "capacity_l = 25",
        "capacity_l = true",
        "it.toml:4: kettle.capacity_l: true is not a number: 3 to 200 L",
    ),
    "NaN": (
        "capacity_l = 25",
        "capacity_l = nan",
        "it.toml:4: kettle.capacity_l: nan is not a finite number: 3 to 200 L",
    ),
    "infinite": (
        "capacity_l = 25",
        "capacity_l = inf",
        "it.toml:4: kettle.capacity_l: inf is not a finite number: 3 to 200 L",
    ),
    "missing": (
        "heater_w = 2500\n",
        "",
        "it.toml:2: kettle.heater_w: missing: 300 to 15000 W; rated power of the element",
    ),
    "misspelt": (
        "dead_space_l = 1",
        "dead_space_l = 1\nheatr_w = 3",
        "it.toml:12: kettle.heatr_w: unknown key; did you mean heater_w?",
    ),
    "unknown": (
        'drive = "ssr"',
        'drive = "ssr"\nzzz = 1',
        "it.toml:23: relay.heater.zzz: unknown key; known here: bridge, modbus, mqtt, drive",
    ),
    "not one of": (
        'drive = "ssr"',
        'drive = "triac"',
        'it.toml:22: relay.heater.drive: "triac" is not allowed: ssr, contactor',
    ),
    "schema of another version": ("schema = 1", "schema = 2", "it.toml:1: schema: 2 is not allowed: 1"),
    "schema true": ("schema = 1", "schema = true", "it.toml:1: schema: must be a whole number: 1"),
    "unknown bridge": (
        'kind = "serial_line"',
        'kind = "parallel"',
        'it.toml:15: bridge.kind: "parallel" is not allowed: serial_line, modbus, mqtt',
    ),
    "name that is no id": (
        'name = "tin"',
        'name = "My Tin"',
        'it.toml:3: kettle.name: "My Tin" is not allowed: 1 to 32 of a-z, 0-9, _ and -, the first a letter or a digit',
    ),
    "probe's name that is no id": (
        "[probe.wall]",
        '[probe."the wall"]',
        "it.toml:18: probe.the wall: is no name: 1 to 32 of a-z, 0-9, _ and -, the first a letter or a digit",
    ),
    "board id in small letters": (
        'board_id = "28A4"',
        'board_id = "28a4"',
        'it.toml:17: bridge.board_id: "28a4" is not allowed: 1 to 16 upper-case hex digits',
    ),
    "not a table": (
        '[relay.heater]\ndrive = "ssr"',
        "[relay]\nheater = 1",
        "it.toml:22: relay.heater: 1 is not a table",
    ),
    "no heater relay": (
        '[relay.heater]\ndrive = "ssr"',
        "[relay.pump]",
        "it.toml:21: relay.heater: missing; the element's own switch",
    ),
    "no relays": ('[relay.heater]\ndrive = "ssr"\n', "", "it.toml: relay: missing; [relay.heater] at least"),
    "control character in a name": (
        "/dev/ttyACM0",
        "/dev/\\u001b[2J",
        "it.toml:16: bridge.port: holds a control character: one line of 1 to 200 characters",
    ),
    "neither altitude nor boiling point": (
        "altitude_m = 0\n",
        "",
        "it.toml:2: kettle.altitude_m: missing: exactly one of altitude_m and boil_c",
    ),
    "altitude and boiling point": (
        "altitude_m = 0",
        "altitude_m = 0\nboil_c = 99",
        "it.toml:8: kettle.boil_c: one too many: exactly one of altitude_m and boil_c",
    ),
    "element cover beyond the brim": (
        "element_cover_l = 4",
        "element_cover_l = 25",
        "it.toml:8: kettle.element_cover_l: 25 is too big: less than capacity_l, 25 L",
    ),
    "basket's floor beyond the brim": (
        "under_basket_l = 5",
        "under_basket_l = 30",
        "it.toml:9: kettle.under_basket_l: 30 is too big: less than capacity_l, 25 L",
    ),
    "a power in kilowatts, of which nothing else follows": (
        "heater_w = 2500",
        "heater_w = 2.5",
        "it.toml:5: kettle.heater_w: 2.5 is too small: 300 to 15000 W",
    ),
    "more steam than the element can make": (
        "boil_off_l_per_h = 2.5",
        "boil_off_l_per_h = 4.2",
        "it.toml:10: kettle.boil_off_l_per_h: 4.2 is too big: 2500 W boil off at most 4.0 L/h",
    ),
    "losses that the element could not make up for": (
        "boil_off_l_per_h = 2.5",
        "boil_off_l_per_h = 2.5\nloss_w_per_k = 32",
        "it.toml:11: kettle.loss_w_per_k: 32 is too big: at the boil 2559 W would be lost, all that heater_w gives",
    ),
    "no control probe": (
        'role = "control"',
        'role = "ambient"',
        'it.toml:18: probe: no probe has the role "control": exactly one',
    ),
    "two control probes": (
        "[relay.heater]",
        PROBE_TWO.replace("return", "control") + "[relay.heater]",
        'it.toml:23: probe.two.role: "control" is taken by [probe.wall]: each role once',
    ),
    "one probe twice": (
        "[relay.heater]",
        PROBE_TWO.replace(OTHER_ROM_ID, "28a1B2C3040506B4") + "[relay.heater]",
        "it.toml:22: probe.two.source: is also the source of [probe.wall]: each probe once",
    ),
    "one input role twice": (
        "[relay.heater]",
        '[input.a]\nrole = "foam"\n[input.b]\nrole = "foam"\n[relay.heater]',
        'it.toml:24: input.b.role: "foam" is taken by [input.a]: each role once',
    ),
    "wrong digit in a ROM id": (
        "28A1B2C3040506B4",
        "28A1B2C3040507B4",
        "it.toml:19: probe.wall.source: is no ROM id: its check byte is B4, the rest gives EA; a digit is wrong",
    ),
    "ROM id too short": (
        "28A1B2C3040506B4",
        "28A1B2C3",
        "it.toml:19: probe.wall.source: is no ROM id: 16 hex digits, as the board prints them",
    ),
    "only half a calibration": (
        'role = "control"',
        'role = "control"\nread_c = [0, 60]',
        "it.toml:21: probe.wall.read_c: read_c and true_c go together",
    ),
    "calibrated twice": (
        'role = "control"',
        'role = "control"\nread_c = [0, 60]\ntrue_c = [1, 61]\noffset_c = 1',
        "it.toml:23: probe.wall.offset_c: either offset_c, or read_c with true_c",
    ),
    "calibration points too near": (
        'role = "control"',
        'role = "control"\nread_c = [60, 65]\ntrue_c = [61, 66]',
        "it.toml:21: probe.wall.read_c: the second point must be at least 10 °C above the first",
    ),
    "probe far out": (
        'role = "control"',
        'role = "control"\nread_c = [0, 60]\ntrue_c = [0, 66]',
        "it.toml:22: probe.wall.true_c: more than 5 °C from read_c: the probe is to be replaced",
    ),
    "one calibration point": (
        'role = "control"',
        'role = "control"\nread_c = [0]\ntrue_c = [1, 61]',
        "it.toml:21: probe.wall.read_c: an array is too short: two numbers, -10 to 110 °C",
    ),
    "limit above the allowed": (
        "[relay.heater]",
        "[safety]\nlimit_c = 104\n[relay.heater]",
        "it.toml:22: safety.limit_c: 104 is too big: 101.0 to 103.0 °C where water boils at 100.0 °C",
    ),
    "limit below the boil": (
        "[relay.heater]",
        "[safety]\nlimit_c = 99\n[relay.heater]",
        "it.toml:22: safety.limit_c: 99 is too small: 101.0 to 103.0 °C where water boils at 100.0 °C",
    ),
    "lease too long": (
        "[relay.heater]",
        "[safety]\nlease_s = 6\n[relay.heater]",
        "it.toml:22: safety.lease_s: 6 is too big: 0.2 to 5 s",
    ),
    "lease too short": (
        "[relay.heater]",
        "[safety]\nlease_s = 0.1\n[relay.heater]",
        "it.toml:22: safety.lease_s: 0.1 is too small: 0.2 to 5 s",
    ),
    "circuit too weak": (
        "[relay.heater]",
        '[supply]\ncircuit = "c"\nmax_w = 2300\n[relay.heater]',
        "it.toml:23: supply.max_w: 2300 is too small: heater_w is 2500 W",
    ),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_named_with_its_line_and_what_is_allowed(loader: Loader, name: str) -> None:
    old, new, told = MISTAKES[name]
    assert loader.mistakes(loader.kettle, swapped(KETTLE, old, new)) == [told]


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file(loader: Loader) -> None:
    text = KETTLE
    for name in ("too small", "misspelt", "no control probe", "element cover beyond the brim", "not one of"):
        text = swapped(text, *MISTAKES[name][:2])
    keys = [told.split(": ")[1] for told in loader.mistakes(loader.kettle, text)]
    assert keys == ["kettle.heater_w", "kettle.element_cover_l", "kettle.heatr_w", "probe", "relay.heater.drive"]


def test_rules_between_keys_speak_although_other_keys_are_wrong(loader: Loader) -> None:
    text = swapped(swapped(KETTLE, 'drive = "ssr"', 'drive = "triac"'), "element_cover_l = 4", "element_cover_l = 25")
    assert len(loader.mistakes(loader.kettle, text)) == 2


def test_nine_probes_are_more_than_a_serial_board_reports(loader: Loader) -> None:
    rom_ids = [f"28A1B2C30405{n:02X}" for n in range(9)]
    more = "".join(f'[probe.p{n}]\nsource = "{rom_id}00"\nrole = "return"\n' for n, rom_id in enumerate(rom_ids))
    assert "it.toml:18: probe: too many probes: at most 8 on one board" in loader.mistakes(loader.kettle, KETTLE + more)


def test_control_characters_of_the_file_never_reach_the_terminal(loader: Loader) -> None:
    (told,) = loader.mistakes(loader.kettle, KETTLE + '"\\u001b[2Jname" = 1\n')
    assert told.isprintable()
    assert "\\u001b[2Jname" in told
