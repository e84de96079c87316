"""Whether somebody at a kettle can say that they stand there."""

from __future__ import annotations

from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.model.reading import BoardInput

NOBODY_CAN_ANSWER = (
    'nobody can answer at this kettle: write [safety] code, or an [input.NAME] of role "confirm" for a button on its'
    " board. Without either a day stands still where hands go in, and after every pause"
)


def nobody_can_answer(file: KettleFile) -> str | None:
    """What to tell whoever runs a kettle that has neither a code nor a button; None where it has one.

    It is no mistake: such a kettle can be watched, stopped, and run through a day of water.
    """
    answers = file.code is not None or BoardInput.CONFIRM in file.kettle.inputs
    return None if answers else f'kettle "{file.kettle.name}": {NOBODY_CAN_ANSWER}'
