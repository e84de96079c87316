"""A whole brew day in accelerated time, and what its record says of it."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from statistics import mean

from kettlebridge.files.examples import config_folder
from kettlebridge.files.kettle_file import KettleFile, load_kettle
from kettlebridge.files.local_time import zone_time
from kettlebridge.files.profile_file import load_profile
from kettlebridge.model.batch_state import BatchState
from kettlebridge.model.event import Event, EventCode
from kettlebridge.model.plan import AnyStep, BoilStep, CirculateStep, HopStandStep, Profile, RestStep
from kettlebridge.model.snapshot import CallView, Snapshot
from kettlebridge.runtime.clock import run_paced
from kettlebridge.simulated.brewer import DELAYS_S, QUICK_S, UsualWays
from kettlebridge.simulated.demo_day import Demo, live

START_UTC_S = 1_800_000_000.0
LATEST = 10
BRISK = 0.25
STRONG_HEATER_W = 2700.0
"""Half as much again as the small kettle has. With twice as much, noise decides what a short climb can teach."""


@dataclass(slots=True, kw_only=True)
class Told:
    """A publisher that keeps the events with their time, and the temperature at the end of each step.

    That is the mean of the last ten ticks: one reading alone has a noise of 0.05 °C.
    """

    events: list[tuple[float, Event]] = field(default_factory=list)
    step_ends: list[tuple[float, float]] = field(default_factory=list)
    boil_found_s: float | None = None
    state: BatchState = BatchState.IDLE
    last: Snapshot | None = None
    latest_c: deque[float] = field(default_factory=lambda: deque(maxlen=LATEST))

    def publish(self, snapshot: Snapshot, events: tuple[Event, ...]) -> None:
        """Keeps one tick."""
        self.state, self.last = snapshot.state, snapshot
        if snapshot.temperature_c is not None:
            self.latest_c.append(snapshot.temperature_c)
        for event in events:
            self.events.append((snapshot.now_s, event))
            if event.code is EventCode.STEP_DONE:
                self.step_ends.append((snapshot.now_s, mean(self.latest_c)))
            elif event.code is EventCode.BOIL_FOUND:
                self.boil_found_s = snapshot.now_s

    def course(self, without: Iterable[EventCode]) -> list[tuple[EventCode, object]]:
        """What happened, in order, and to what; measured figures are left out, and the codes in `without`."""
        left_out = frozenset(without)
        return [(event.code, _subject(event)) for _, event in self.events if event.code not in left_out]


def _subject(event: Event) -> object:
    first = event.values[0][1] if event.values else None
    return None if isinstance(first, float) else first


def example(kettle: str, profile: str) -> tuple[KettleFile, Profile]:
    """Files that come with the program."""
    config = config_folder()
    return load_kettle(config / "kettles" / f"{kettle}.toml"), load_profile(config / "profiles" / f"{profile}.toml")


def brisk(profile: Profile) -> Profile:
    """The same steps in less time: a quarter of each minute that is counted."""
    return replace(profile, steps=tuple(_shortened(step) for step in profile.steps))


def _shortened(step: AnyStep) -> AnyStep:
    if not isinstance(step, RestStep | BoilStep | HopStandStep | CirculateStep):
        return step
    shortened = replace(step, for_min=BRISK * step.for_min)
    if isinstance(shortened, BoilStep | HopStandStep):
        additions = (replace(each, before_end_min=BRISK * each.before_end_min) for each in shortened.additions)
        return replace(shortened, additions=tuple(additions))
    return shortened


class BriskWays(UsualWays):
    """All goes well, and a call waits at most a quarter as long as it might."""

    def late_s(self, call: CallView, now_s: float) -> float:
        """They come sooner."""
        _, most_s = DELAYS_S.get(call.subject, DELAYS_S.get(call.kind, QUICK_S))
        return (BRISK - 1.0) * most_s


def wire_day() -> tuple[KettleFile, Profile]:
    """A day to live over a wire: each step, call and addition of a whole one in a fraction of its time.

    Every second costs its frames. The simulated kettle takes its heater from the file.
    """
    file, profile = example("thimble", "quillet_bitter")
    return replace(file, kettle=replace(file.kettle, heater_w=STRONG_HEATER_W)), brisk(profile)


def lived(
    file: KettleFile,
    profile: Profile,
    folder: Path,
    *,
    seed: int = 3,
    told: Told | None = None,
) -> Told:
    """The day with the real driver, the real record and a simulated brewer who is brisk."""
    told = Told() if told is None else told
    demo = Demo(
        file=file,
        profile=profile,
        seed=seed,
        hands_off=True,
        until_complete=True,
        folder=folder,
        time=zone_time("UTC"),
        listeners=(told,),
        beside=None,
        ways=BriskWays(),
    )
    run_paced(partial(live, demo), start_utc_s=START_UTC_S)
    return told
