"""How the relays stand: what they were told, what their nodes answered, and the account of it that a tick is given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kettlebridge.model.demand import Output
from kettlebridge.model.mqtt import RelayWire
from kettlebridge.model.reading import BoardState
from kettlebridge.model.units import FULL_PERMILLE


@dataclass(slots=True, kw_only=True)
class Standing:
    """One relay. `permille` is its node's word, None before the first; `available` likewise.

    `told_permille` is the last order, `renewed_s` Clock time of the last one that switched on or kept on.
    """

    permille: int | None = None
    available: bool | None = None
    told_permille: int = 0
    renewed_s: float | None = None


class Relays:
    """All relays of a kettle, by output."""

    def __init__(self, wires: Mapping[Output, RelayWire], now_s: float) -> None:
        self.standing = {output: Standing() for output in wires}
        self._wires = wires
        self._unanswered = {output for output, wire in wires.items() if wire.state is not None}
        self._heater_on_s = 0.0
        self._counted_s = now_s

    @property
    def unanswered(self) -> frozenset[Output]:
        """Those whose nodes have not said how they stand since they were last told something."""
        return frozenset(self._unanswered)

    def told(self, permille: Mapping[Output, int], now_s: float) -> None:
        """Orders went out."""
        for output, asked in permille.items():
            standing = self.standing[output]
            standing.told_permille = asked
            if asked:
                standing.renewed_s = now_s
            if self._wires[output].state is not None:
                self._unanswered.add(output)

    def answered(self, output: Output, permille: int, now_s: float) -> None:
        """A node says how its relay stands."""
        self._count(now_s)
        self.standing[output].permille = permille
        self._unanswered.discard(output)

    def account(self, token: int, now_s: float) -> BoardState:
        """Everything as the nodes tell it, under `token`; a relay of which nobody tells stands as it was told."""
        self._count(now_s)
        return BoardState(
            acted_on=token,
            heater_permille=self._permille(Output.HEATER),
            heater_on_ms=round(1000 * self._heater_on_s),
            pump_on=self._permille(Output.PUMP) > 0,
            main_contactor_closed=self._permille(Output.MAIN_CONTACTOR) > 0,
            lease_left_s=self._lease_left_s(now_s),
        )

    def _permille(self, output: Output) -> int:
        standing = self.standing.get(output)
        if standing is None:
            return 0
        return standing.told_permille if standing.permille is None else standing.permille

    def _lease_left_s(self, now_s: float) -> float:
        standing, wire = self.standing.get(Output.HEATER), self._wires.get(Output.HEATER)
        if standing is None or wire is None or standing.renewed_s is None or wire.auto_off_s is None:
            return 0.0
        return max(0.0, standing.renewed_s + wire.auto_off_s - now_s) if standing.told_permille else 0.0

    def _count(self, now_s: float) -> None:
        self._heater_on_s += (now_s - self._counted_s) * self._permille(Output.HEATER) / FULL_PERMILLE
        self._counted_s = now_s
