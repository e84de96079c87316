"""The page in the other room: HTML, an event stream and a JSON API over the ports, and nothing of the rooms behind."""

from __future__ import annotations
