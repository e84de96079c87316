"""What comes out of a group of tasks, as whoever called is to see it."""

from __future__ import annotations

from kettlebridge.model.errors import KettlebridgeError


def the_expected(group: BaseExceptionGroup) -> BaseException:
    """What was raised on purpose is raised as itself where it is all there is; anything else stays as it came."""
    expected, others = group.split(KettlebridgeError)
    if others is not None or expected is None:
        return group
    leaf: BaseException = expected
    while isinstance(leaf, BaseExceptionGroup):
        leaf = leaf.exceptions[0]
    return leaf
