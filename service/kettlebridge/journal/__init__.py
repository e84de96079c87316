"""What happened, kept on disk: the SQLite store, its migrations and queries."""

from __future__ import annotations
