"""Which commands are ours: a broker sends our own back, because we ask for what is said on our command topics.

An echo shows that the broker passed a command on, and what is no echo comes from somebody else.
"""

from __future__ import annotations

from collections import defaultdict, deque

from kettlebridge.model.mqtt import Message
from kettlebridge.ports import Gate


class Echoes:
    """Commands under way. `gate` is shut for each until it has come back."""

    def __init__(self, gate: Gate) -> None:
        self._gate = gate
        self._under_way: defaultdict[str, deque[bytes]] = defaultdict(deque)

    def sent(self, message: Message) -> None:
        """One goes out."""
        self._under_way[message.topic].append(message.payload)
        self._gate.shut()

    def waits(self, topic: str) -> bool:
        """Whether a command on `topic` has not come back."""
        return bool(self._under_way[topic])

    def came(self, message: Message) -> bool:
        """Whether it is one of ours. Earlier ones of its topic came as well: only the newest of a topic is kept."""
        under_way = self._under_way[message.topic]
        if message.payload not in under_way:
            return False
        while under_way:
            self._gate.open()
            if under_way.popleft() == message.payload:
                return True
        return False

    def forget(self) -> None:
        """None of them comes back any more."""
        for under_way in self._under_way.values():
            self._gate.open(len(under_way))
            under_way.clear()
