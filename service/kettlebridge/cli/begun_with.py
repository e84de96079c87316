"""A batch that comes back goes on by the kettle file it was begun with: where that changed, somebody must know."""

from __future__ import annotations

from dataclasses import fields

from kettlebridge.model.kettle import Kettle


def changed_words(begun_with: Kettle, now: Kettle) -> str:
    """What of the file is another now, as the end of a sentence; empty where nothing is."""
    changed = [field.name for field in fields(Kettle) if getattr(begun_with, field.name) != getattr(now, field.name)]
    if not changed:
        return ""
    return (
        f"; its kettle file has changed since ({', '.join(changed)}): this batch goes on with what stood there then: "
        "where that fits no more, put it back, or end the batch and begin anew"
    )
