"""NMEA sentences that are void, cut, spoiled or no sentences."""

from __future__ import annotations

import numpy as np
import pytest

from lapkit.errors import LogError
from lapkit.importer import nmea, read_log, read_logs

PLACE = "5212.3456,N,00106.5432,W"
LAT = 52 + 12.3456 / 60


def test_void_fixes_are_left_out(write, sentence, rmc, gga, reasons):
    bodies = [
        rmc("100000"), rmc("100001", status="V"), gga("100002"), gga("100003", quality=0),
        f"GNGNS,100004.00,{PLACE},NN,00,,,,,", f"GNRMC,100005,A,{PLACE},1.0,2.0,020526,,,N",
        rmc("100006"), gga("100006", quality=0),
    ]  # fmt: skip
    log = read_log(write(b"".join(map(sentence, bodies))))
    assert (log.time_s - log.time_s[0]).tolist() == [0, 2]
    assert reasons(log) == {"marked by the receiver as void": 5}


def test_an_empty_start_up_is_told_by_its_reason(write, sentence):
    bodies = ["GNRMC,,V,,,,,,,,,,N", "GNVTG,,,,,,,,,N", "GNGGA,,,,,,0,00,99.99,,,,,,"]
    with pytest.raises(LogError, match=r"no fix .*without a time"):
        read_logs(write(b"".join(map(sentence, bodies))))


def spoiled(data: bytes) -> bytes:
    """The sentence with a digit changed after the sum was taken."""
    return data.replace(b"5212", b"5213")


def test_sentences_with_a_wrong_sum_are_left_out_and_counted(write, sentence, rmc, reasons):
    data = b"".join(
        spoiled(sentence(rmc(f"1000{i:02}"))) if i % 5 == 0 else sentence(rmc(f"1000{i:02}"))
        for i in range(20)
    )
    log = read_log(write(data))
    assert len(log) == 16
    assert reasons(log) == {"with a wrong checksum": 4}
    assert log.notes == ()


def test_when_all_sums_of_one_type_are_wrong_the_others_serve(
    write, sentence, rmc, gga, utc, reasons
):
    data = b"".join(
        spoiled(sentence(rmc(f"1000{i:02}"))) + sentence(gga(f"1000{i:02}")) for i in range(20)
    )
    log = read_log(write(data))
    assert len(log) == 20
    assert log.speed_mps is None
    assert log.lat_deg == pytest.approx([LAT] * 20)
    assert reasons(log) == {"with a wrong checksum": 20}
    assert log.notes == ("every RMC sentence has a wrong checksum, so none was used",)
    # Their date is the only one there is; taking it is a guess, and said to be one.
    assert log.has_clock
    assert log.time_s[0] == utc(2026, 5, 2, 10, 0, 0)
    assert "from sentences with wrong checksums" in log.guesses["date"]


@pytest.mark.parametrize(
    "dates", [["010526", "020526", "030526"], ["020526", "0205z6"], ["020526", ""]]
)
def test_when_their_dates_disagree_or_one_is_none_no_date_is_taken(
    write, sentence, rmc, gga, dates
):
    data = b"".join(
        spoiled(sentence(rmc(f"1000{i:02}", date=dates[i % len(dates)])))
        + sentence(gga(f"1000{i:02}"))
        for i in range(20)
    )
    assert not read_log(write(data)).has_clock


def test_a_receiver_without_sums_is_read_and_said_so(write, rmc):
    log = read_log(write("".join(f"${rmc(f'1000{i:02}')}\r\n" for i in range(5))))
    assert len(log) == 5
    assert log.notes == ("its sentences carry no checksums",)


def test_cut_lines_are_left_out(write, sentence, rmc, reasons):
    whole = sentence(rmc("100000"))
    data = whole + whole[:30] + b"\r\n" + sentence(rmc("100001")) + sentence(rmc("100002"))[:-7]
    log = read_log(write(data))
    assert len(log) == 2
    assert reasons(log) == {"cut short": 2}
    assert [d.text for d in log.dropped] == ["2 NMEA sentences cut short were left out"]


@pytest.mark.parametrize(
    "field", ["XXXXX", "1e5x", "--", "\N{DEGREE SIGN}"], ids=["word", "number", "signs", "degree"]
)
def test_a_sentence_with_an_unreadable_number_gives_nothing(write, sentence, field, rmc):
    data = sentence(rmc("100000")) + sentence(
        rmc("100001", speed=field).encode("ascii", "replace").decode()
    )
    log = read_log(write(data))
    assert len(log) == 1


@pytest.mark.parametrize("place", ["5260.0000,N,00106.5432,W", "5x12.3,N,00106.5,W", ".,N,.,W"])
def test_impossible_minutes_are_no_position(write, sentence, place, rmc, reasons):
    log = read_log(write(sentence(rmc("100000")) + sentence(rmc("100001", place=place))))
    assert len(log) == 1
    assert reasons(log)["that cannot be read"] == 1


@pytest.mark.parametrize("clock", ["250000", "106000", "100062", "ab0000", "1", "-10000"])
def test_impossible_times_of_day_are_no_epoch(write, sentence, clock, rmc):
    log = read_log(write(sentence(rmc("100000")) + sentence(rmc(clock))))
    assert len(log) == 1


def test_binary_between_sentences_is_passed_over(write, sentence, rmc):
    rng = np.random.default_rng(1)
    data = b"".join(
        rng.bytes(80).replace(b"#", b"") + sentence(rmc(f"1000{i:02}")) for i in range(50)
    )
    assert len(read_log(write(data))) == 50


def test_comment_lines_are_no_data(write, sentence, rmc):
    data = (
        b"# $"
        + sentence(rmc("095959"))[1:]
        + sentence(rmc("100000"))
        + b"#"
        + sentence(rmc("100001"))
    )
    assert len(read_log(write(data))) == 1


@pytest.mark.parametrize("chunk_bytes", [1, 40, 75, 300])
def test_sentences_are_the_same_wherever_the_file_is_cut_into_pieces(
    write, sentence, rmc, monkeypatch, chunk_bytes
):
    monkeypatch.setattr(nmea, "_CHUNK_BYTES", chunk_bytes)
    log = read_log(write(b"".join(sentence(rmc(f"1000{i:02}")) for i in range(20))))
    assert len(log) == 20
    assert log.dropped == ()


def test_dates_of_spoiled_sentences_hold_across_midnight(write, sentence, rmc, gga, utc):
    clocks = [
        ("235958", "020526"),
        ("235959", "020526"),
        ("000000", "030526"),
        ("000001", "030526"),
    ]
    data = b"".join(
        spoiled(sentence(rmc(clock, date=date))) + sentence(gga(clock)) for clock, date in clocks
    )
    log = read_log(write(data))
    assert log.time_s[0] == utc(2026, 5, 2, 23, 59, 58)
    assert np.diff(log.time_s).tolist() == [1, 1, 1]


def test_one_right_sum_of_a_type_is_enough_to_trust_the_others(write, sentence, rmc):
    data = sentence(rmc("100000")) + b"".join(
        spoiled(sentence(rmc(f"1000{i:02}"))) for i in range(1, 9)
    )
    assert read_log(write(data)).notes == ()
