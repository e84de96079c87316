"""The ways in for people: the control socket, and the page where one is wanted."""

from __future__ import annotations

import hmac
from collections.abc import Sequence
from dataclasses import dataclass

from kettlebridge.app.service import Service
from kettlebridge.app.setting import Assignment, Setting
from kettlebridge.files.library import FolderLibrary
from kettlebridge.model.ids import KettleId
from kettlebridge.runtime.control_client import SOCKET_NAME
from kettlebridge.runtime.control_socket import ControlSocket
from kettlebridge.web.server import Listener
from kettlebridge.web.surroundings import Surroundings


@dataclass(frozen=True, slots=True, kw_only=True)
class Doors:
    """The ways in for people."""

    socket: ControlSocket
    page: Listener | None
    around: Surroundings


def doors_of(assignments: Sequence[Assignment], setting: Setting, service: Service, page: Listener | None) -> Doors:
    """Both of them, not yet open."""
    codes = {assignment.file.kettle.name: assignment.file.code for assignment in assignments}

    def at_kettle(kettle: KettleId, code: str) -> bool:
        posted = codes.get(kettle)
        return posted is not None and hmac.compare_digest(posted.encode(), code.encode())

    around = Surroundings(
        kettles=tuple(service.keepers),
        commands=service.commands,
        snapshots=service.snapshots,
        records=service.records,
        traces=service.traces,
        time=setting.time,
        at_kettle=at_kettle,
        library=FolderLibrary(setting.recipes, setting.profiles),
        next_batches=service.next_batches if setting.profiles else None,
        note=setting.note,
        hurried=setting.hurried,
    )
    place = setting.folder / SOCKET_NAME
    socket = ControlSocket(place, tuple(service.keepers), service.commands, service.snapshots, at_kettle)
    return Doors(socket=socket, page=page, around=around)
