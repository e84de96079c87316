"""The least that a board is, for a day without a wire: outputs follow demands, inputs drop the heat, faults as set."""

from __future__ import annotations

from kettlebridge.model.demand import Demand, Output
from kettlebridge.model.kettle import Kettle
from kettlebridge.model.reading import BoardHealth, BoardInput, BoardState
from kettlebridge.model.units import FULL_PERMILLE
from kettlesim.world import BoardInputs, Outputs

READING_AGE_S = 0.4
LEASE_LEFT_S = 1.0
LATCHING = BoardInput.LEVEL | BoardInput.FOAM | BoardInput.CUTOUT | BoardInput.STOP
HEATER, PUMP, MAIN_CONTACTOR = Output.HEATER, Output.PUMP, Output.MAIN_CONTACTOR


class FoldBoard:
    """Outputs read back one tick later. The faults are its attributes; all are off at the start.

    `heater_welded`, `contactor_welded`, `pump_welded`: what they switch is on whatever the pin says, and the pin does
    not know. `heater_stuck`: the pin itself is on, and says so. `pressed`: inputs that a fault holds on.
    """

    def __init__(self, kettle: Kettle) -> None:
        self.heater_permille = 0
        self.pump_on = False
        self.main_contactor_closed = False
        self.up_ms = 0
        self.linked = True
        self.heater_welded = self.contactor_welded = self.pump_welded = self.heater_stuck = False
        self.pressed = BoardInput.NONE
        self._kettle = kettle
        self._felt: tuple[BoardInputs, BoardInput] | None = None
        self._inputs = BoardInput.NONE
        self._drops = self._latched = False

    def obey(self, demands: tuple[Demand, ...]) -> None:
        """Takes what a tick demanded; what an input has dropped comes back only after heater 0."""
        permille = contactor = pump = 0
        for output, wanted, _, _ in demands if self.linked else ():
            if output is HEATER:
                permille = wanted
            elif output is MAIN_CONTACTOR:
                contactor = wanted
            elif output is PUMP:
                pump = wanted
        self._latched = self._drops or (self._latched and permille > 0)
        self.heater_permille = 0 if self._latched else permille
        self.main_contactor_closed = contactor > 0 and not self._latched
        self.pump_on = pump > 0

    def feel(self, inputs: BoardInputs) -> None:
        """The switches in and at the kettle, of those that it has."""
        if (inputs, self.pressed) != self._felt:
            self._felt = (inputs, self.pressed)
            self._inputs = self._on(inputs)
            self._drops = bool(self._inputs & LATCHING)
        if self._drops:
            self._latched, self.heater_permille, self.main_contactor_closed = True, 0, False

    def _on(self, inputs: BoardInputs) -> BoardInput:
        felt = (
            (BoardInput.FOAM, inputs.foam),
            (BoardInput.LEVEL, inputs.level_low),
            (BoardInput.FLOW, inputs.flow),
        )
        on = self.pressed
        for name, is_on in felt:
            on |= name if is_on else BoardInput.NONE
        return on & self._kettle.inputs

    def health(self) -> BoardHealth:
        """What it says of itself."""
        board = BoardState(
            acted_on=self.up_ms,
            heater_permille=FULL_PERMILLE if self.heater_stuck else self.heater_permille,
            heater_on_ms=0,
            pump_on=self.pump_on,
            main_contactor_closed=self.main_contactor_closed,
            lease_left_s=LEASE_LEFT_S,
            inputs=self._inputs,
        )
        return BoardHealth(linked=True, age_s=READING_AGE_S, board=board) if self.linked else _SILENT

    def outputs(self) -> Outputs:
        """What they do to the kettle."""
        stuck = self.heater_welded or self.heater_stuck
        return Outputs(
            heater_fraction=1.0 if stuck else self.heater_permille / FULL_PERMILLE,
            main_contactor_closed=self.main_contactor_closed
            or self.contactor_welded
            or not self._kettle.has_main_contactor,
            pump_on=self.pump_on or self.pump_welded,
        )


_SILENT = BoardHealth(linked=False, age_s=0.0)
