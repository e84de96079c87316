"""Boards on a serial line: the codec of its frames, and the link that keeps a session."""

from __future__ import annotations
