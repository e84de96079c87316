"""When a demo opens a browser by itself."""

from __future__ import annotations

from argparse import Namespace

import pytest

from kettlebridge.cli.demo import SCREENS, _opens


@pytest.mark.parametrize(
    ("hands_off", "told", "watched", "screen", "opens"),
    [
        (False, None, True, True, True),
        (False, None, True, False, False),
        (False, None, False, True, False),
        (False, False, True, True, False),
        (False, True, False, False, True),
        (True, None, True, True, False),
        (True, True, True, True, False),
    ],
)
def test_a_browser_opens_where_there_is_a_screen_and_somebody_and_never_hands_off(
    hands_off: bool, told: bool | None, watched: bool, screen: bool, opens: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.platform", "linux")
    for name in SCREENS:
        monkeypatch.delenv(name, raising=False)
    if screen:
        monkeypatch.setenv(SCREENS[0], ":0")
    assert _opens(Namespace(hands_off=hands_off, open=told), watched=watched) is opens
