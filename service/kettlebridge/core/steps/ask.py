"""`ask`: something for hands. Heater, pump and main contactor are off; hands in need a second word to go on."""

from __future__ import annotations

from kettlebridge.core.calls import CallKind, Wanted
from kettlebridge.core.stage import DONE, NOTHING, Scene, Stage, Wish, always, answered, asks
from kettlebridge.model.plan import ASK_ROWS, AskStep

ANNOUNCE_S = 5.0
ANNOUNCE_BUZZER = 2
KEEP_LIMIT_S = 2 * 3600.0
WANTED = {
    what: (Wanted(kind=CallKind.ASK, subject=what.value, at_kettle=row.at_kettle),) for what, row in ASK_ROWS.items()
}


def hands_in(scene: Scene[AskStep]) -> bool:
    """Whether this ask puts hands into the kettle."""
    return ASK_ROWS[scene.step.what].hands_in


def _wish(scene: Scene[AskStep]) -> Wish:
    keep_max_c = ASK_ROWS[scene.step.what].keep_max_c
    if scene.step.keep_c is None or keep_max_c is None:
        return NOTHING
    return Wish(target_c=min(scene.step.keep_c, keep_max_c))


def _asks(scene: Scene[AskStep]) -> tuple[Wanted, ...]:
    return WANTED[scene.step.what]


def _hands_were_in(scene: Scene[AskStep]) -> bool:
    return scene.answered(CallKind.ASK) and hands_in(scene)


def _announced(scene: Scene[AskStep]) -> bool:
    return scene.age_s >= ANNOUNCE_S


def _announce(scene: Scene[AskStep]) -> Wish:
    return Wish(buzzer=ANNOUNCE_BUZZER)


STAGES = (
    Stage(name="begin", wish=lambda scene: NOTHING, moves=((hands_in, "hands_in"), (always, "ask"))),
    Stage(
        name="hands_in",
        wish=lambda scene: NOTHING,
        asks=_asks,
        moves=((_hands_were_in, "hands_out"),),
        hands_in=True,
    ),
    Stage(
        name="hands_out",
        wish=lambda scene: NOTHING,
        asks=asks(CallKind.HANDS_CLEAR),
        moves=((answered(CallKind.HANDS_CLEAR), "announce"),),
        hands_in=True,
    ),
    Stage(name="announce", wish=_announce, moves=((_announced, DONE),), hands_in=True),
    Stage(
        name="ask",
        wish=_wish,
        asks=_asks,
        moves=((answered(CallKind.ASK), DONE),),
        hold_limit_s=KEEP_LIMIT_S,
    ),
)
