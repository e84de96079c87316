"""Whether this machine's wall clock is held by a time service: Linux's own word for it (adjtimex(2))."""

from __future__ import annotations

import ctypes

TIME_ERROR = 5
"""What adjtimex returns for a clock that nobody holds (linux/timex.h)."""
ROOM_BYTES = 512
"""More than struct timex has on any machine; all zero asks and changes nothing."""


def wall_clock_synchronised() -> bool:
    """False also where the system cannot say."""
    try:
        answer = int(ctypes.CDLL(None).adjtimex(ctypes.byref(ctypes.create_string_buffer(ROOM_BYTES))))
    except AttributeError:  # no Linux
        return False
    return 0 <= answer < TIME_ERROR
