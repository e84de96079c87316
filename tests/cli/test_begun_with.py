"""What of a kettle file is another than a batch was begun with."""

from __future__ import annotations

from dataclasses import replace

from kettlebridge.cli.begun_with import changed_words
from kettlebridge.model.kettle import HeaterDrive
from tests.core.bench_kettle import KETTLE


def test_an_unchanged_file_is_no_word_worth() -> None:
    assert changed_words(KETTLE, replace(KETTLE)) == ""


def test_what_changed_is_named_and_what_to_do_is_said() -> None:
    words = changed_words(KETTLE, replace(KETTLE, heater_w=3500.0, drive=HeaterDrive.CONTACTOR))
    assert "changed since (heater_w, drive)" in words
    assert "end the batch" in words
