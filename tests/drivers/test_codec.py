"""The codec: every frame kind there and back, and nothing that a bad line sends gets through or does harm."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.drivers.serial_line.codec import FROM_BOARD, FROM_HOST, Damage, Decoder, Direction, encode
from kettlebridge.drivers.serial_line.frames import (
    Ability,
    Accepted,
    Board,
    Claim,
    Conversion,
    ForeignBoard,
    Frame,
    Heard,
    Off,
    Order,
    ProbeList,
    Query,
    Refusal,
    Refused,
    Report,
    ResetCause,
    Version,
)
from kettlebridge.drivers.serial_line.values import FAULT_SPELLING
from kettlebridge.model.reading import BoardInput, ReadingFault
from tests.drivers.vectors import vectors
from tests.drivers.wire import wire

UINT32 = st.integers(0, 0xFFFFFFFF)
NAMES = st.from_regex(r"[0-9A-Za-z_-]{1,16}", fullmatch=True)
TTL_MS = st.integers(200, 5000)
PERMILLE = st.integers(0, 1000)
SEQ = st.integers(0, 65535)
AGES_MS = st.integers(0, 65535)
SIXTEENTHS = st.integers(-99 * 16, 999 * 16).map(lambda n: n / 16)

CONVERSIONS = st.one_of(
    st.builds(Conversion, value_c=SIXTEENTHS, age_ms=AGES_MS),
    st.builds(Conversion, fault=st.sampled_from(tuple(FAULT_SPELLING)), age_ms=AGES_MS),
)


def probes(values: st.SearchStrategy) -> st.SearchStrategy:
    return st.dictionaries(st.integers(0, 7), values).map(lambda by_index: tuple(sorted(by_index.items())))


BOARD_FRAMES = st.one_of(
    st.builds(
        Board,
        version=st.builds(Version, major=st.just(1), minor=st.integers(0, 999)),
        board_id=NAMES,
        boot=UINT32,
        cause=st.sampled_from(ResetCause),
        max_ttl_ms=TTL_MS,
        abilities=st.integers(0, 63).map(Ability),
    ),
    st.builds(ProbeList, roms=probes(NAMES)),
    st.builds(
        Report,
        up_ms=UINT32,
        session=UINT32,
        conversions=probes(CONVERSIONS),
        heater_permille=PERMILLE,
        heater_on_ms=UINT32,
        pump_on=st.booleans(),
        contactor_on=st.booleans(),
        inputs=st.integers(0, 127).map(BoardInput),
        lease_left_ms=st.integers(0, 5000),
        dropped_frames=st.integers(0, 99),
    ),
    st.builds(Accepted, session=st.none() | UINT32),
    st.builds(Refused, why=st.sampled_from(Refusal)),
)
HOST_FRAMES = st.one_of(
    st.builds(Query),
    st.builds(Off),
    st.builds(Claim, boot=UINT32),
    st.builds(
        Order,
        session=UINT32,
        acted_on=UINT32,
        ttl_ms=TTL_MS,
        heater_permille=PERMILLE,
        pump_on=st.booleans(),
        contactor_on=st.booleans(),
        buzzer=st.integers(0, 9),
    ),
)
ORDER = Order(session=7, acted_on=184_460, ttl_ms=3000, heater_permille=350, pump_on=True, contactor_on=True, buzzer=0)
REPORT = "9 T up=184460 s=9F3A1C07 t0={} h=350 on=90210 p=1 k=1 d=00 l=2410 n=0"


def heard(line: bytes, direction: Direction = FROM_BOARD) -> Frame:
    (only,) = Decoder(direction).feed(line)
    return only.frame


def damage(line: bytes, direction: Direction = FROM_BOARD) -> Damage:
    decoder = Decoder(direction)
    assert decoder.feed(line) == ()
    return decoder.damage


@given(SEQ, BOARD_FRAMES)
def test_frame_of_a_board_comes_back_as_it_was(seq: int, frame: Frame) -> None:
    assert Decoder(FROM_BOARD).feed(encode(seq, frame)) == (Heard(seq=seq, frame=frame),)


@given(SEQ, HOST_FRAMES)
def test_frame_of_the_host_comes_back_as_it_was(seq: int, frame: Frame) -> None:
    line = encode(seq, frame)
    assert Decoder(FROM_HOST).feed(line) == (Heard(seq=seq, frame=frame),)
    assert len(line) <= 80


@given(st.binary(max_size=2000), st.sampled_from([FROM_BOARD, FROM_HOST]))
def test_arbitrary_bytes_never_raise_and_never_pile_up(noise: bytes, direction: Direction) -> None:
    decoder = Decoder(direction)
    decoder.feed(noise)
    assert decoder.kept_bytes < direction.limit_bytes


@given(st.lists(st.binary(max_size=60) | st.sampled_from([b"@", b"\n", b"*", b"\r\n", b" T ", b"@1 N"]), max_size=40))
def test_noise_made_of_frame_parts_never_raises_and_never_piles_up(pieces: list[bytes]) -> None:
    decoder = Decoder(FROM_BOARD)
    for piece in pieces:
        decoder.feed(piece)
        assert decoder.kept_bytes < FROM_BOARD.limit_bytes


@given(st.lists(st.builds(Heard, seq=SEQ, frame=BOARD_FRAMES), max_size=5), st.lists(st.integers(1, 50), min_size=1))
def test_stream_may_be_chopped_anywhere(sent: list[Heard], sizes: list[int]) -> None:
    stream = b"".join(encode(one.seq, one.frame) for one in sent)
    decoder = Decoder(FROM_BOARD)
    received: list[Heard] = []
    while stream:
        for size in sizes:
            received += decoder.feed(stream[:size])
            stream = stream[size:]
    assert received == sent
    assert decoder.damage == Damage()


@given(SEQ, BOARD_FRAMES, st.data())
def test_up_to_three_flipped_bits_never_pass_for_another_frame(seq: int, frame: Frame, data: st.DataObject) -> None:
    # CRC-16/CCITT has Hamming distance 4 up to 32751 data bits (P. Koopman, CRC polynomial zoo: 0x8810); flips inside
    # the CRC's own digits or the frame marks can only make the frame unreadable.
    line = bytearray(encode(seq, frame))
    body_bits = line.index(b"*") * 8
    for bit in data.draw(st.sets(st.integers(8, body_bits - 1), min_size=1, max_size=3)):
        line[bit // 8] ^= 1 << bit % 8
    assert Decoder(FROM_BOARD).feed(bytes(line)) == ()


@given(BOARD_FRAMES, st.binary(max_size=30))
def test_frame_after_noise_is_still_read(frame: Frame, noise: bytes) -> None:
    assert Decoder(FROM_BOARD).feed(noise + encode(5, frame))[-1:] == (Heard(seq=5, frame=frame),)


def test_new_frame_begins_in_the_middle_of_a_torn_one() -> None:
    decoder = Decoder(FROM_BOARD)
    assert decoder.feed(b"@10 N why=st" + wire("11 N why=stale")) == (Heard(seq=11, frame=Refused(why=Refusal.STALE)),)
    assert decoder.damage == Damage(malformed=1)


def test_bytes_between_frames_are_no_damage() -> None:
    assert damage(b"boot loader 3.1\r\nready\r\n") == Damage()


def test_wrong_crc_is_dropped_and_counted() -> None:
    assert damage(b"@10 N why=stale*1053\r\n") == Damage(bad_crc=1)


def test_crc_in_lower_case_is_not_ours() -> None:
    assert damage(wire("3 A sid=9F3A1C07").replace(b"3A67", b"3a67")) == Damage(bad_crc=1)


@pytest.mark.parametrize("end", [b"\n", b"\r\r\n", b" \r\n"])
def test_line_end_must_be_carriage_return_and_line_feed(end: bytes) -> None:
    assert damage(b"@10 N why=stale*1052" + end) == Damage(malformed=1)


def test_longest_frame_passes_and_one_byte_more_is_dropped_whole() -> None:
    longest = wire("1 N why=stale x=" + "y" * (240 - len(wire("1 N why=stale x="))))
    assert len(longest) == 240
    assert heard(longest) == Refused(why=Refusal.STALE)
    assert damage(longest.replace(b"x=", b"x=y")) == Damage(overlong=1)


def test_frame_without_end_is_dropped_once_and_the_next_one_read() -> None:
    decoder = Decoder(FROM_BOARD)
    decoder.feed(b"@")
    for _ in range(1000):
        decoder.feed(b"x" * 50)
    assert decoder.kept_bytes == 0
    assert decoder.feed(wire("1 N why=stale")) == (Heard(seq=1, frame=Refused(why=Refusal.STALE)),)
    assert decoder.damage == Damage(overlong=1)


def test_host_ignores_a_key_it_does_not_know() -> None:
    assert heard(wire("3 A sid=9F3A1C07 humidity=40")) == Accepted(session=0x9F3A1C07)


def test_board_side_refuses_a_key_it_does_not_know() -> None:
    assert damage(wire("3 Q v=1 w=2"), FROM_HOST) == Damage(malformed=1)


@pytest.mark.parametrize(
    "body",
    [
        "10 N",
        "10 N why=",
        "10 N why=bored",
        "10 N why=stale why=stale",
        "10 N why=stale new=1 new=1",
        "10 N  why=stale",
        "10 N why=stale ",
        "10 N why",
        "10 N =stale",
        "10 N why=stale =x",
        "10 N why=stale new=",
        "10 N why=stale new",
        "65536 N why=stale",
        "-1 N why=stale",
        "+1 N why=stale",
        " N why=stale",
        "N why=stale",
        "10",
        "",
        "10 n why=stale",
        "10 NN why=stale",
        "10 Q v=1",
        "3 A sid=9f3a1c07",
        "3 A sid=9F3A1C07 new=a\tb",
        "3 A sid=9F3A1C07 new=a*b",
        "3 A sid=9F3A1C07 new=\xe9",
        "3 A sid=9F3A1C071",
        "1 B v=1 id=28A4 boot=5C21E07A rc=por max=5000 cap=3F",
        "1 B id=28A4 boot=5C21E07A rc=por max=5000 cap=3F",
        "1 B v=1.0 id=28A4 boot=5C21E07A rc=por max=5001 cap=3F",
        "1 B v=1.0 id=28A4 boot=5C21E07A rc=por max=5000 cap=3",
        "1 B v=1.0 id=28A4 boot=5C21E07A rc=cosmic max=5000 cap=3F",
        "1 B v=1.0 id=28\xc44 boot=5C21E07A rc=por max=5000 cap=3F",
        "1 B v=1.0 id=28*4 boot=5C21E07A rc=por max=5000 cap=3F",
        "4 P t0=28A1B2C3040506B4 t0=28D4E5F6070809E6",
        REPORT.format("66.4/310").replace("h=350", "h=1001"),
        REPORT.format("66.4/310").replace("h=350", "h=-1"),
        REPORT.format("66.4/310").replace("p=1", "p=2"),
        REPORT.format("66.4/310").replace(" k=1", ""),
        REPORT.format("66.4/310").replace("up=184460", "up=4294967296"),
        REPORT.format("66.4/310").replace("up=184460", "up=1e5"),
        REPORT.format("66.4/310").replace("l=2410", "l=5001"),
    ],
)
def test_frame_that_breaks_a_rule_is_refused_whole(body: str) -> None:
    assert damage(wire(body)) == Damage(malformed=1)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("66.4375/310", Conversion(value_c=66.4375, age_ms=310)),
        ("-0.5/0", Conversion(value_c=-0.5, age_ms=0)),
        ("85/1", Conversion(value_c=85.0, age_ms=1)),
        ("E1/9", Conversion(fault=ReadingFault.NO_ANSWER, age_ms=9)),
        ("E2/9", Conversion(fault=ReadingFault.BAD_CRC, age_ms=9)),
        ("E3/9", Conversion(fault=ReadingFault.LINE_SHORT, age_ms=9)),
        ("E4/9", Conversion(fault=ReadingFault.LOST_POWER, age_ms=9)),
        ("E5/9", Conversion(fault=ReadingFault.NONE_YET, age_ms=9)),
        ("nan/9", Conversion(fault=ReadingFault.NOT_A_NUMBER, age_ms=9)),
        ("NAN/9", Conversion(fault=ReadingFault.NOT_A_NUMBER, age_ms=9)),
        ("-inf/9", Conversion(fault=ReadingFault.NOT_A_NUMBER, age_ms=9)),
        ("ovf/9", Conversion(fault=ReadingFault.NOT_A_NUMBER, age_ms=9)),
    ],
)
def test_temperature_is_read_as_value_or_fault_with_its_age(text: str, expected: Conversion) -> None:
    report = heard(wire(REPORT.format(text)))
    assert isinstance(report, Report)
    assert report.conversions == ((0, expected),)


@pytest.mark.parametrize(
    "text",
    [
        "66.4",
        "66.4/",
        "/310",
        "66,4/310",
        "1e2/310",
        "+66/310",
        ".5/1",
        "1000/1",
        "66.43751/1",
        "E6/1",
        "E/1",
        "66.4/-1",
    ],
)
def test_garbage_for_a_temperature_spoils_the_report(text: str) -> None:
    assert damage(wire(REPORT.format(text))) == Damage(malformed=1)


def test_eight_probes_fit_into_one_report() -> None:
    conversions = tuple((index, Conversion(value_c=-99.9375, age_ms=65535)) for index in range(8))
    report = Report(
        up_ms=0xFFFFFFFF,
        session=0xFFFFFFFF,
        conversions=conversions,
        heater_permille=1000,
        heater_on_ms=0xFFFFFFFF,
        pump_on=True,
        contactor_on=True,
        inputs=BoardInput(127),
        lease_left_ms=5000,
        dropped_frames=999,
    )
    assert heard(encode(65535, report)) == report


def test_input_bits_without_a_meaning_are_left_out() -> None:
    report = heard(wire(REPORT.format("66.4/310").replace("d=00", "d=84")))
    assert isinstance(report, Report)
    assert report.inputs is BoardInput.FOAM


def test_board_of_another_major_version_is_recognised_whatever_its_other_keys() -> None:
    assert heard(wire("1 B v=2.3 serial=abc")) == ForeignBoard(version=Version(major=2, minor=3))


def test_keys_may_come_in_any_order() -> None:
    assert heard(wire("10 O z=0 k=1 p=1 h=350 ttl=3000 e=184460 s=00000007"), FROM_HOST) == ORDER


@pytest.mark.parametrize(
    "change",
    [
        {"ttl_ms": 199},
        {"ttl_ms": 5001},
        {"heater_permille": 1001},
        {"heater_permille": -1},
        {"heater_permille": 0.5},
        {"heater_permille": True},
        {"acted_on": -1},
        {"acted_on": 2**32},
        {"session": 2**32},
        {"buzzer": 10},
        {"pump_on": 1},
    ],
)
def test_order_out_of_range_is_a_bug_and_never_written(change: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r".+"):
        encode(1, dataclasses.replace(ORDER, **change))


@pytest.mark.parametrize("seq", [-1, 65536])
def test_sequence_number_out_of_range_is_a_bug(seq: int) -> None:
    with pytest.raises(ValueError, match="whole number"):
        encode(seq, Off())


def test_temperature_that_is_no_number_is_not_written() -> None:
    with pytest.raises(ValueError, match="neither"):
        encode(1, dataclasses.replace(_report(), conversions=((0, Conversion(value_c=float("nan"), age_ms=1)),)))


def test_probe_index_beyond_seven_is_not_written() -> None:
    with pytest.raises(ValueError, match="index"):
        encode(1, ProbeList(roms=((8, "28A1"),)))


def _report() -> Report:
    (line,) = (line for line in vectors() if " T " in line)
    report = heard(line.encode() + b"\r\n")
    assert isinstance(report, Report)
    return report


@pytest.mark.parametrize("major", [0, 999])
def test_a_host_of_any_version_can_ask_and_one_beyond_is_a_bug(major: int) -> None:
    for frame in (Query(major=major), Claim(major=major, boot=1)):
        assert Decoder(FROM_HOST).feed(encode(1, frame)) == (Heard(seq=1, frame=frame),)
    with pytest.raises(ValueError, match="whole number"):
        encode(1, Query(major=1000))
    with pytest.raises(ValueError, match="whole number"):
        encode(1, Query(major=-1))


def test_a_lease_on_a_report_ends_at_nought_and_at_the_longest() -> None:
    for left_ms in (0, 5000):
        report = dataclasses.replace(_report(), lease_left_ms=left_ms)
        assert heard(encode(1, report)) == report
    for left_ms in (-1, 5001):
        with pytest.raises(ValueError, match="whole number"):
            encode(1, dataclasses.replace(_report(), lease_left_ms=left_ms))


def test_every_figure_of_a_report_reaches_to_the_end_of_its_range() -> None:
    most: dict[str, Any] = {
        "up_ms": 2**32 - 1,
        "session": 2**32 - 1,
        "heater_on_ms": 2**32 - 1,
        "dropped_frames": 2**32 - 1,
    }
    for name, value in most.items():
        full: dict[str, Any] = {name: value}
        report = dataclasses.replace(_report(), **full)
        assert heard(encode(65_535, report)) == report
        beyond: dict[str, Any] = {name: value + 1}
        with pytest.raises(ValueError, match=r".+"):
            encode(1, dataclasses.replace(report, **beyond))
        none: dict[str, Any] = {name: 0}
        assert heard(encode(0, dataclasses.replace(report, **none))) == dataclasses.replace(report, **none)


@pytest.mark.parametrize("index", [-1, 8, 9])
def test_a_probe_index_that_no_board_has_is_not_written(index: int) -> None:
    with pytest.raises(ValueError, match="beyond 0 to 7"):
        encode(1, ProbeList(roms=((index, "28A1"),)))


def test_a_session_that_nobody_holds_is_a_bare_nought() -> None:
    line = encode(1, dataclasses.replace(_report(), session=0))
    assert b" s=0 " in line
    free = heard(line)
    assert isinstance(free, Report)
    assert free.session == 0
    assert b" s=00000007 " in encode(1, dataclasses.replace(_report(), session=7))


def test_a_frame_that_grows_too_long_is_a_bug() -> None:
    with pytest.raises(ValueError, match="240 fit"):
        encode(1, ProbeList(roms=tuple((index, "A" * 16) for index in range(8)) * 2))


def test_damage_is_counted_by_its_kind_and_adds_up() -> None:
    decoder = Decoder(FROM_BOARD)
    for _ in range(2):
        decoder.feed(b"@10 N why=stale*1053\r\n")
        decoder.feed(b"@10 N why=st@10 N why=stale*1052\n")
        decoder.feed(b"@" + b"x" * 300)
    assert decoder.damage == Damage(bad_crc=2, malformed=4, overlong=2)
    assert decoder.kept_bytes == 0


@pytest.mark.parametrize("tail", [b"", b"*", b"*10", b"*1052", b"1052\r", b"x1052\r"])
def test_a_line_too_short_for_its_checksum_is_malformed(tail: bytes) -> None:
    assert damage(b"@" + tail + b"\n") == Damage(malformed=1)


def test_an_unfinished_frame_is_kept_byte_by_byte() -> None:
    decoder = Decoder(FROM_BOARD)
    for size, byte in enumerate(wire("10 N why=stale")[:-1]):
        assert decoder.feed(bytes([byte])) == ()
        assert decoder.kept_bytes == size
    assert decoder.feed(b"\n") == (Heard(seq=10, frame=Refused(why=Refusal.STALE)),)
    assert decoder.kept_bytes == 0
    assert decoder.feed(b"\n") == ()


@pytest.mark.parametrize(
    "change",
    [
        {"ttl_ms": 200},
        {"ttl_ms": 5000},
        {"heater_permille": 0},
        {"heater_permille": 1000},
        {"acted_on": 0},
        {"acted_on": 2**32 - 1},
        {"session": 2**32 - 1},
        {"buzzer": 0},
        {"buzzer": 9},
        {"pump_on": False, "contactor_on": True},
        {"pump_on": True, "contactor_on": False},
    ],
    ids=str,
)
def test_an_order_at_the_end_of_a_range_is_written_and_read(change: dict[str, Any]) -> None:
    order = dataclasses.replace(ORDER, **change)
    assert heard(encode(1, order), FROM_HOST) == order


@pytest.mark.parametrize("size", [1, 7, 50, 119, 239])
def test_the_longest_frame_is_the_longest_in_whatever_pieces_it_comes(size: int) -> None:
    longest = wire("1 N why=stale x=" + "y" * (240 - len(wire("1 N why=stale x="))))
    for line, expected in ((longest, Damage()), (longest.replace(b"x=", b"x=y"), Damage(overlong=1))):
        decoder = Decoder(FROM_BOARD)
        heard_in_all = [one for at in range(0, len(line), size) for one in decoder.feed(line[at : at + size])]
        assert decoder.damage == expected
        assert len(heard_in_all) == (0 if expected.overlong else 1)


def test_a_board_that_can_nothing_says_so_and_each_ability_is_a_bit_of_its_own() -> None:
    def able(cap: str) -> Ability:
        board = heard(wire(f"1 B v=1.0 id=28A4 boot=5C21E07A rc=por max=5000 cap={cap}"))
        assert isinstance(board, Board)
        return board.abilities

    assert (able("00"), bool(Ability.NONE)) == (Ability.NONE, False)
    assert [able(f"{1 << bit:02X}") for bit in range(6)] == [
        Ability.HARDWARE_WATCHDOG,
        Ability.BROWN_OUT_RESET,
        Ability.OUTPUTS_LOW_IN_RESET,
        Ability.INPUTS,
        Ability.LOAD_SENSE,
        Ability.SIMULATED,
    ]
