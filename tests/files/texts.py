"""A small kettle file and a small profile, right in every key, for tests to break one thing at a time."""

from __future__ import annotations

KETTLE = """\
schema = 1
[kettle]
name = "tin"
capacity_l = 25
heater_w = 2500
mains_v = 230
altitude_m = 0
element_cover_l = 4
under_basket_l = 5
boil_off_l_per_h = 2.5
dead_space_l = 1
basket_kg = 1.5
chill = "in_kettle"
[bridge]
kind = "serial_line"
port = "/dev/ttyACM0"
board_id = "28A4"
[probe.wall]
source = "28A1B2C3040506B4"
role = "control"
[relay.heater]
drive = "ssr"
"""

PROFILE = """\
schema = 1
name = "Plain"
[water]
fill_l = 15
sparge_l = 5
grain_kg = 4
[[step]]
do = "ask"
what = "fill"
[[step]]
do = "heat"
to_c = 71
[[step]]
do = "ask"
what = "dough_in"
[[step]]
do = "rest"
at_c = 66
for_min = 60
[[step]]
do = "ask"
what = "lift"
[[step]]
do = "ask"
what = "sparge"
[[step]]
do = "ask"
what = "basket_away"
[[step]]
do = "boil"
for_min = 60
[[step.addition]]
name = "leaf"
kind = "hops"
grams = 20
before_end_min = 60
[[step]]
do = "chill"
to_c = 20
water_c = 12
[[step]]
do = "ask"
what = "pitch"
[[step]]
do = "ask"
what = "empty"
"""


def swapped(text: str, old: str, new: str) -> str:
    """`text` with its one `old` replaced; a test that would change nothing fails here."""
    assert text.count(old) == 1, f"{old!r} is there {text.count(old)} times"
    return text.replace(old, new)
