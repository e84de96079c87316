"""Who may command a board, and for how long."""

from __future__ import annotations

import pytest

from kettlesim.wire_serial.fittings import Fittings
from tests.simulator_wire.bench import BOOTED_MS, Bench, sealed


def test_board_introduces_itself_and_its_probes_when_it_boots() -> None:
    bench = Bench()
    assert [frame.kind for frame in bench.sent] == ["B", "P", "T"]
    hello, probes, _ = bench.sent
    boot = f"{bench.board.boot:08X}"
    assert hello.values == {"v": "1.0", "id": "28A4", "boot": boot, "rc": "por", "max": "5000", "cap": "3F"}
    assert probes.values == {"t0": "28A1B2C304050600", "t1": "28A1B2C304050601"}


def test_question_is_answered_and_changes_nothing() -> None:
    bench = Bench()
    bench.heat()
    left_ms = bench.board.lease_left_ms(bench.now_ms)
    assert [frame.kind for frame in bench.say("Q v=7")] == ["B", "P"]
    assert bench.on() == {"heater", "contactor"}
    assert bench.board.lease_left_ms(bench.now_ms) == left_ms


def test_claim_gives_a_session_that_reports_carry() -> None:
    bench = Bench()
    session = bench.claim()
    assert session != 0
    assert bench.sent[-1].values == {"sid": f"{session:08X}"}
    bench.wait(100)
    assert bench.newest().values["s"] == f"{session:08X}"


def test_answers_repeat_the_number_of_their_question() -> None:
    bench = Bench()
    assert bench.raw(sealed(f"4711 C v=1 boot={bench.board.boot:08X}"))[0].seq == 4711
    assert bench.raw(sealed("4712 C v=2 boot=0"))[0].seq == 4712


def test_claim_of_another_major_version_is_refused_and_no_demand_accepted() -> None:
    bench = Bench()
    assert bench.answer(f"C v=2 boot={bench.board.boot:08X}") == "version"
    assert bench.demand() == "session"


def test_claim_for_an_earlier_boot_is_stale() -> None:
    bench = Bench()
    assert bench.answer(f"C v=1 boot={bench.board.boot ^ 1:08X}") == "stale"


def test_claim_is_refused_as_busy_while_a_lease_is_alive() -> None:
    bench = Bench()
    bench.heat()
    assert bench.answer(f"C v=1 boot={bench.board.boot:08X}") == "busy"
    assert bench.on() == {"heater", "contactor"}


def test_claim_without_a_lease_to_respect_replaces_the_session() -> None:
    bench = Bench()
    first = bench.claim()
    second = bench.claim()
    assert second != first
    assert bench.demand(s=f"{first:08X}") == "session"
    assert bench.demand(s=f"{second:08X}") == "A"


def test_demand_without_a_claim_is_refused() -> None:
    bench = Bench()
    assert bench.demand(s="0", k=1) == "session"
    assert bench.demand(s="1", k=1) == "session"
    assert bench.on() == set()


def test_all_off_is_obeyed_whatever_its_number_and_ends_the_session() -> None:
    bench = Bench()
    bench.heat(p=1)
    bench.raw(sealed("99999 X and=more"))
    assert bench.on() == set()
    assert bench.board.session == 0
    assert bench.demand() == "session"


@pytest.mark.parametrize("age_ms", [0, 1, 1234, 2999])
def test_lease_ends_at_the_named_board_time_to_the_millisecond(age_ms: int) -> None:
    bench = Bench()
    bench.heat(ttl=5000)
    bench.wait(age_ms)
    acted_on_ms = bench.up_ms - age_ms
    assert bench.demand(h=1000, k=1, p=1, e=acted_on_ms, ttl=3000) == "A"
    end_ms = bench.now_ms - age_ms + 3000
    bench.wait(end_ms - bench.now_ms - 1)
    assert bench.on() == {"heater", "pump", "contactor"}
    bench.wait(1)
    assert bench.on() == set()
    assert [at_ms for at_ms, _, on in bench.switched[-3:] if not on] == [end_ms] * 3


def test_lease_end_switches_heater_then_pump_then_contactor() -> None:
    bench = Bench()
    bench.heat(p=1)
    bench.wait(4000)
    assert [pin.value for _, pin, on in bench.switched[-3:] if not on] == ["heater", "pump", "contactor"]


def test_lease_end_is_exact_even_if_nobody_looked() -> None:
    bench = Bench()
    bench.heat(ttl=1500)
    end_ms = bench.now_ms + 1500
    bench.board.poll(bench.now_ms + 60_000)
    assert bench.switched[-1][0] == end_ms
    assert not bench.on()


def test_after_a_lapse_every_demand_is_lapsed_until_a_new_claim() -> None:
    bench = Bench()
    bench.heat()
    session = bench.board.session
    bench.wait(5000)
    for _ in range(3):
        assert bench.demand(s=f"{session:08X}") == "lapsed"
    assert bench.demand(s="1") == "lapsed"
    bench.claim()
    assert bench.demand() == "A"


def test_a_delayed_on_is_dead_on_arrival() -> None:
    bench = Bench()
    bench.claim()
    held = sealed(f"9 O s={bench.board.session:08X} e={bench.up_ms} ttl=3000 h=0 p=1 k=1 z=0")
    bench.wait(3000)
    assert bench.raw(held)[-1].values == {"why": "stale"}
    assert bench.on() == set()
    assert bench.board.lease_left_ms(bench.now_ms) == 0


def test_a_late_demand_gives_only_what_is_left_of_its_lease() -> None:
    bench = Bench()
    bench.claim()
    held = sealed(f"9 O s={bench.board.session:08X} e={bench.up_ms} ttl=3000 h=0 p=1 k=1 z=0")
    bench.wait(2900)
    assert bench.raw(held)[0].kind == "A"
    assert bench.board.lease_left_ms(bench.now_ms) == 100


def test_a_demand_from_the_future_is_stale() -> None:
    bench = Bench()
    bench.claim()
    assert bench.demand(e=bench.up_ms + 1) == "stale"


def test_a_demand_older_than_the_last_accepted_is_stale_and_an_equal_one_is_not() -> None:
    bench = Bench()
    bench.claim()
    bench.wait(500)
    newest = bench.up_ms
    assert bench.demand(e=newest) == "A"
    assert bench.demand(e=newest) == "A"
    assert bench.demand(e=newest - 1) == "stale"


def test_a_replayed_demand_shortens_nothing_and_extends_nothing() -> None:
    bench = Bench()
    bench.claim()
    once = sealed(f"9 O s={bench.board.session:08X} e={bench.up_ms} ttl=3000 h=0 p=1 k=0 z=0")
    bench.raw(once)
    end_ms = bench.now_ms + 3000
    bench.wait(1000)
    bench.raw(once)
    assert bench.board.lease_left_ms(bench.now_ms) == end_ms - bench.now_ms


@pytest.mark.parametrize("after_wrap_ms", [-10, 0, 10])
def test_lease_and_freshness_hold_across_the_wrap_of_the_uptime(after_wrap_ms: int) -> None:
    bench = Bench(Fittings(first_up_ms=2**32 - BOOTED_MS - 1000))
    bench.claim()
    bench.wait(1000 + after_wrap_ms - 500)
    acted_on_ms = bench.up_ms
    bench.wait(500)
    assert bench.up_ms == after_wrap_ms % 2**32
    assert bench.demand(e=acted_on_ms, ttl=2000, k=1) == "A"
    assert bench.board.lease_left_ms(bench.now_ms) == 1500
    assert bench.demand(e=(acted_on_ms - 1) % 2**32) == "stale"


def test_a_reset_drops_outputs_session_and_lease_and_draws_a_new_boot_number() -> None:
    bench = Bench()
    bench.heat(p=1)
    session, boot = bench.board.session, bench.board.boot
    bench.board.reboot("brown", bench.now_ms)
    assert bench.on() == set()
    assert bench.switched[-1][0] == bench.now_ms
    hello = bench.wait(BOOTED_MS)[0]
    assert (hello.kind, hello.values["rc"]) == ("B", "brown")
    assert bench.board.boot != boot
    assert bench.up_ms == BOOTED_MS
    assert bench.demand(s=f"{session:08X}", k=1) == "session"


def test_a_board_that_is_booting_hears_nothing() -> None:
    bench = Bench()
    bench.board.reboot("ext", bench.now_ms)
    bench.wait(BOOTED_MS - 1)
    assert bench.say("Q v=1") == []


def test_a_board_without_supply_is_silent_until_it_is_switched_on() -> None:
    bench = Bench()
    bench.heat()
    bench.board.switch_off(bench.now_ms)
    assert bench.on() == set()
    assert bench.wait(10_000) == []
    assert bench.say("Q v=1") == []
    bench.board.reboot("por", bench.now_ms)
    assert bench.wait(BOOTED_MS)[0].kind == "B"


def test_a_hung_main_loop_keeps_no_output_beyond_its_lease() -> None:
    bench = Bench()
    bench.heat(ttl=1500)
    end_ms = bench.now_ms + 1500
    bench.board.stall(60_000, bench.now_ms)
    bench.wait(1500)
    assert bench.switched[-1][0] == end_ms
    assert bench.on() == set()


def test_the_watchdog_resets_a_hung_board() -> None:
    bench = Bench()
    bench.heat(ttl=5000)
    bench.board.stall(60_000, bench.now_ms)
    hello = bench.wait(2000 + BOOTED_MS)[0]
    assert (hello.kind, hello.values["rc"]) == ("B", "wdt")
    assert bench.on() == set()


def test_a_short_stall_reads_what_the_ring_held_and_counts_what_it_lost() -> None:
    bench = Bench()
    bench.board.stall(1000, bench.now_ms)
    assert bench.raw(sealed("1 Q v=1") * 10) == []
    heard = bench.wait(1000)
    whole_in_the_ring = 96 // len(sealed("1 Q v=1"))
    assert [frame.kind for frame in heard].count("B") == whole_in_the_ring
    bench.say("Q v=1")
    bench.wait(500)
    assert bench.newest().values["n"] == "1"


def test_two_boards_and_two_boots_never_share_their_numbers() -> None:
    benches = [Bench(seed=seed) for seed in range(20)]
    boots = [bench.board.boot for bench in benches]
    for bench in benches:
        bench.board.reboot("soft", bench.now_ms)
        boots.append(bench.board.boot)
    assert len(set(boots)) == len(boots)


def test_a_stalled_board_is_silent_until_the_stall_ends_and_answers_then() -> None:
    bench = Bench()
    bench.wait(1000 - BOOTED_MS)
    bench.board.stall(500, bench.now_ms)
    assert bench.raw(sealed("1 Q v=1")) == []
    assert bench.wait(499) == []
    assert "B" in [frame.kind for frame in bench.wait(1)]


def test_how_long_the_heater_was_on_can_be_asked_at_any_moment_and_changes_nothing() -> None:
    bench = Bench()
    bench.heat(350, ttl=5000)
    on_ms = []
    for wait_ms in (100, 249, 1, 300, 350, 200):
        bench.wait(wait_ms)
        before = bench.on()
        on_ms.append(bench.board.heater_on_ms(bench.now_ms))
        assert bench.on() == before
    assert on_ms == [100, 349, 350, 350, 350, 550]


def test_time_that_nobody_looked_at_is_counted_as_the_bursts_went() -> None:
    bench = Bench()
    bench.heat(350, ttl=5000)
    assert bench.board.heater_on_ms(bench.now_ms + 200) == 200
    assert bench.board.heater_on_ms(bench.now_ms + 400) == 350


def test_after_a_reset_the_time_of_the_heater_is_counted_from_nought() -> None:
    bench = Bench()
    bench.heat(1000, ttl=5000)
    bench.wait(1000)
    bench.board.reboot("soft", bench.now_ms)
    bench.wait(BOOTED_MS)
    bench.heat(1000, ttl=5000)
    bench.wait(1350)
    bench.demand()
    bench.wait(500)
    assert bench.newest().values["on"] == "1350"


@pytest.mark.parametrize("order", [1, -1])
def test_a_probe_that_changed_its_place_is_told_before_the_next_report(order: int) -> None:
    bench = Bench()
    bench.board.bus.probes[0].rom, bench.board.bus.probes[1].rom = ("28AA", "28BB")[::order]
    bench.wait(500)
    told = [frame for frame in bench.sent if frame.kind == "P"][-1]
    assert (told.values["t0"], told.values["t1"]) == ("28AA", "28BB")[::order]
    bench.board.bus.probes[0].rom, bench.board.bus.probes[1].rom = ("28BB", "28AA")[::order]
    assert next(frame.kind for frame in bench.wait(500)) == "P"


@pytest.mark.parametrize("other", [1, -1])
def test_a_claim_of_another_boot_is_stale_whichever_number_is_higher(other: int) -> None:
    bench = Bench()
    assert bench.answer(f"C v=1 boot={bench.board.boot + other:08X}") == "stale"
    assert bench.board.session == 0
    bench.claim()
