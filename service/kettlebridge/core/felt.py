"""The board's inputs as the rules ask for them: of those that the kettle file names, which are on."""

from __future__ import annotations

from typing import NamedTuple

from kettlebridge.model.kettle import Kettle
from kettlebridge.model.reading import BoardInput


class Felt(NamedTuple):
    """`told` is the board's word, the others follow from it."""

    told: BoardInput = BoardInput.NONE
    level: bool = False
    flow: bool = False
    foam: bool = False
    cut_out: bool = False
    stop: bool = False


NOTHING_FELT = Felt()


def felt(before: Felt, told: BoardInput, kettle: Kettle) -> Felt:
    """What `told` says; worked out anew only when it changed."""
    if told is before.told:
        return before
    on = told & kettle.inputs
    return Felt(
        told=told,
        level=BoardInput.LEVEL in on,
        flow=BoardInput.FLOW in on,
        foam=BoardInput.FOAM in on,
        cut_out=BoardInput.CUTOUT in on,
        stop=BoardInput.STOP in on,
    )
