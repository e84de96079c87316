"""What a service is told: which kettles with which profiles, and what it stands in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from kettlebridge.bridges import BridgeFactory, bridge_of
from kettlebridge.files.kettle_file import KettleFile
from kettlebridge.files.local_time import ZoneTime
from kettlebridge.model.plan import Profile
from kettlebridge.ports import Clock, Publisher
from kettlebridge.runtime.service_manager import ServiceManager
from kettlebridge.runtime.stuck_guard import Guard, NoGuard
from kettlebridge.web.server import Address

NO_GUARD = NoGuard()


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """A kettle, and the profile to begin with where the record holds no unfinished batch of it; None: to be chosen."""

    file: KettleFile
    profile: Profile | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a service stands in. `folder` holds the record and the control socket; it is made if need be.

    `page`: where to serve one, None for none; `note` says what stands on it. `hurried`: the clock is faster than life.
    `recipes` and `profiles` are folders that the page chooses from; without profiles it begins nothing else.
    `manager` is told how the service does, where somebody wants to hear it.
    """

    clock: Clock
    folder: Path
    time: ZoneTime
    bridges: BridgeFactory = bridge_of
    guard: Guard = NO_GUARD
    listeners: Sequence[Publisher] = ()
    page: Address | None = None
    note: Callable[[], str] = str
    hurried: bool = False
    recipes: tuple[Path, ...] = ()
    profiles: tuple[Path, ...] = ()
    manager: ServiceManager | None = None
