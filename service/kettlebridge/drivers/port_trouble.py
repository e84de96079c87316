"""Why a serial port was not opened, in words and as a reason: the same whichever library opens it."""

from __future__ import annotations

import errno

from kettlebridge.model.errors import LinkError, LinkReason

_NOT_A_PORT = (LinkReason.NO_PORT, "is not a serial port")
_MISSING = (LinkReason.NO_PORT, "is not there")
_FORBIDDEN = (LinkReason.NO_PORT, "may not be opened by this user; on Debian, members of the group dialout may")
_TAKEN = (LinkReason.PORT_IN_USE, "is in use by another program")

_WHY_NOT_OPENED: dict[int | None, tuple[LinkReason, str]] = {
    errno.ENOENT: _MISSING,
    errno.ENODEV: _MISSING,
    errno.ENXIO: _MISSING,
    errno.EACCES: _FORBIDDEN,
    errno.EPERM: _FORBIDDEN,
    errno.EBUSY: _TAKEN,
    errno.EAGAIN: _TAKEN,
    errno.ENOTTY: _NOT_A_PORT,
    errno.EISDIR: _NOT_A_PORT,
    None: _NOT_A_PORT,  # pyserial gives no number when the device has no line settings
}


def not_opened(path: str, error: Exception) -> LinkError:
    """What to raise for it."""
    otherwise = (LinkReason.NO_PORT, f"does not open: {error}")
    reason, why = _WHY_NOT_OPENED.get(getattr(error, "errno", None), otherwise)
    return LinkError(reason, f"{path} {why}")
