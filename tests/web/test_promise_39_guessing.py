"""Promise 39: wrong tries make the next one wait, from the same place. All heat stops within 1 s all the same."""

from __future__ import annotations

import asyncio

from kettlebridge.web.guesses import LONGEST_S, SUBJECTS, Guesses
from kettlebridge.web.roles import Role
from tests.web.rooms import House
from tests.web.test_access import PHRASES, guarded, signed_in


def guarded_by(the_house: House) -> House:
    """Another visitor of the same house."""
    return House(the_house.app, the_house.commands, the_house.snapshots, the_house.stop)


async def test_guessing_gets_slower_and_stop_all_heat_does_not() -> None:
    the_house = guarded()
    brewer = guarded_by(the_house)
    token = await signed_in(brewer, Role.WATCHER)
    assert (await the_house.post("/sign-in", {"phrase": "wrong wrong wrong"})).status == 403
    for _ in range(20):
        answer = await the_house.post("/sign-in", {"phrase": PHRASES[Role.ALL]})
        assert answer.status == 429
        assert int(answer.header("retry-after")) >= 1
    async with asyncio.timeout(1.0):
        assert (await brewer.tell({"do": "stop-heat"}, {"x-token": token})).status == 200


def test_the_wait_doubles_up_to_a_limit_and_is_forgotten() -> None:
    guesses = Guesses()
    waits = [guesses.wrong("a", 1000.0 * number) for number in range(12)]
    assert waits[:5] == [1.0, 2.0, 4.0, 8.0, 16.0]
    assert waits[-1] == LONGEST_S
    assert guesses.wait_s("a", 11_000.0) == LONGEST_S
    assert guesses.wait_s("b", 11_000.0) == 0.0
    assert guesses.wrong("a", 20_000.0) == 1.0
    guesses.right("a")
    assert guesses.wait_s("a", 20_000.0) == 0.0


def test_many_places_at_once_count_as_one_crowd_and_take_no_more_memory() -> None:
    guesses = Guesses()
    for number in range(SUBJECTS + 50):
        guesses.wrong(f"place {number}", 0.0)
    assert guesses.wait_s("one more place", 0.0) > 0.0
    assert len(guesses._tallies) <= SUBJECTS + 1
