"""The queue of a broker's connection: the newest message of each topic, where the library would keep the oldest."""

from __future__ import annotations

import asyncio
from collections import OrderedDict

from aiomqtt import Message

TOPICS = 256
"""Topics that may wait at once; those beyond are dropped. A kettle has some twenty."""

Key = tuple[str, bool]


class LatestPerTopic(asyncio.Queue[Message]):
    """Topics in the order in which they came to have something. What is retained never replaces what is new."""

    _queue: OrderedDict[Key, Message]

    def _init(self, maxsize: int) -> None:
        self._queue = OrderedDict()

    def _put(self, item: Message) -> None:
        key = (str(item.topic), bool(item.retain))
        if key in self._queue or len(self._queue) < TOPICS:
            self._queue[key] = item

    def _get(self) -> Message:
        return self._queue.popitem(last=False)[1]
