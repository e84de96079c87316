"""What people write: kettle and profile files, checked all at once, every mistake with its place."""

from __future__ import annotations
