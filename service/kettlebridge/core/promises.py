"""The promises that are kept now: one row each, read by the docs and the tests.

Shown on a simulator, they are claims about the simulator. `within_s` includes one tick and one frame.
"""

from __future__ import annotations

from kettlebridge.model.promise import Promise, PromiseKind

PROMISES: tuple[Promise, ...] = (
    Promise(
        id=8,
        fault="no fresh sample of the control probe for 3 s",
        outcome="heater and main contactor off, batch held",
        within_s=5.0,
        kind=PromiseKind.INTERLOCK,
        kept_by="core.interlocks.stale",
        test="tests/core/test_promise_08_stale_probe.py",
    ),
    Promise(
        id=9,
        fault="readings out of range, sentinels, a power-on 85, not a number: four in a row; or most of the last 24",
        outcome="heater and main contactor off, batch held (a mostly bad probe: within its 24 readings more); such a "
        "reading is never used",
        within_s=5.0,
        kind=PromiseKind.INTERLOCK,
        kept_by="core.interlocks.bad_streak",
        test="tests/core/test_promise_09_bad_readings.py",
    ),
    Promise(
        id=13,
        fault="one spike among good readings",
        outcome="energises nothing, resets no timer",
        within_s=None,
        kind=PromiseKind.VALIDATION,
        kept_by="core.probes.observe",
        test="tests/core/test_promise_13_spike.py",
    ),
    Promise(
        id=20,
        fault="5 °C above a set-point that had been reached, for 10 s; or above the absolute limit, in any state",
        outcome="heater and main contactor off, batch held; above 90 °C only boil, circulate and hop stand may heat",
        within_s=12.0,
        kind=PromiseKind.INTERLOCK,
        kept_by="core.interlocks.over_set_point",
        test="tests/core/test_promise_20_over_temperature.py",
    ),
    Promise(
        id=22,
        fault="a target that is never reached, or a hold for which nobody comes",
        outcome="alarm 5 min beyond twice the plan; heat ends after 2 h of it, or of holding (45 min under the boil)",
        within_s=7200.0,
        kind=PromiseKind.INTERLOCK,
        kept_by="core.interlocks.held_for_nobody",
        test="tests/core/test_promise_22_nobody_comes.py",
    ),
    Promise(
        id=23,
        fault="nobody said that liquid covers the element, or the claim ended: batch, transfer, drain, 24 h",
        outcome="no heat, and an alarm while a step wants it",
        within_s=1.0,
        kind=PromiseKind.INTERLOCK,
        kept_by="core.interlocks.no_fill",
        test="tests/core/test_promise_23_no_fill.py",
    ),
    Promise(
        id=25,
        fault="the pump on liquid above 80 °C where it has no business, or with heat where it must not",
        outcome="pump off, or heater off",
        within_s=1.0,
        kind=PromiseKind.INTERLOCK,
        kept_by="core.interlocks.hot_pump",
        test="tests/core/test_promise_25_hot_pump.py",
    ),
    Promise(
        id=26,
        fault="somebody says stop all heat",
        outcome="everything off from every state, in the same tick; left only by reset",
        within_s=1.0,
        kind=PromiseKind.COMMAND,
        kept_by="core.interlocks.not_running",
        test="tests/core/test_promise_26_stop_heat.py",
    ),
    Promise(
        id=43,
        fault="sugar or syrup due or undissolved on the element",
        outcome="heater and main contactor off until it is confirmed dissolved",
        within_s=1.0,
        kind=PromiseKind.INTERLOCK,
        kept_by="core.interlocks.sinking",
        test="tests/core/test_promise_43_sinking_addition.py",
    ),
    Promise(
        id=49,
        fault="hands in the kettle: dough in, stir, lift",
        outcome="heater, pump and main contactor off; back only on a separate confirmation, announced 5 s ahead",
        within_s=1.0,
        kind=PromiseKind.INTERLOCK,
        kept_by="core.interlocks.hands_in",
        test="tests/core/test_promise_49_hands_in.py",
    ),
    Promise(
        id=56,
        fault="a rule takes the pump from a mash that is recirculated",
        outcome="heater off in the same tick",
        within_s=1.0,
        kind=PromiseKind.INTERLOCK,
        kept_by="core.interlocks.mash_pump",
        test="tests/core/test_promise_56_mash_pump.py",
    ),
)
