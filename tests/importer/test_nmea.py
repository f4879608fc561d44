"""NMEA sentences: what they become, their dates and clocks."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.importer import read_log, read_logs
from lapkit.importer.nmea import checksum
from lapkit.importer.nmea_epochs import NO_DAY, read_day
from lapkit.units import KMH_MPS, KNOT_MPS

PLACE = "5212.3456,N,00106.5432,W"
LAT = 52 + 12.3456 / 60
LON = -(1 + 6.5432 / 60)


@given(st.binary(max_size=128))
def test_the_checksum_is_the_exclusive_or_of_all_bytes(body):
    expected = 0
    for byte in body:
        expected ^= byte
    assert checksum(body) == expected


def test_sentences_of_one_epoch_make_one_fix(write, sentence, rmc, gga, utc):
    data = b"".join(
        sentence(s)
        for i in range(3)
        for s in (rmc(f"10000{i}.50"), "GPGSV,1,1,00", gga(f"10000{i}.5"))
    )
    log = read_log(write(data))
    assert log.time_s.tolist() == [utc(2026, 5, 2, 10, 0, i, 500_000) for i in range(3)]
    assert log.lat_deg == pytest.approx([LAT] * 3, abs=1e-13)
    assert log.lon_deg == pytest.approx([LON] * 3, abs=1e-13)
    assert log.speed_mps == pytest.approx([10 * KNOT_MPS] * 3)
    assert log.heading_deg.tolist() == [45.5] * 3
    assert log.height_m.tolist() == [83.1] * 3
    assert log.hdop.tolist() == [0.8] * 3
    assert log.satellites.tolist() == [9] * 3
    assert log.fix_quality.tolist() == [1] * 3
    assert log.dropped == ()


@pytest.mark.parametrize("talker", ["GP", "GN", "GL", "GA", "BD", "QZ", "II"])
def test_sentences_of_any_talker_are_read(write, sentence, talker, rmc):
    log = read_log(write(sentence(rmc("100000", talker=talker))))
    assert len(log) == 1


def test_the_position_with_more_digits_wins(write, sentence, rmc, gga):
    fine = "5212.3456789,N,00106.5432109,W"
    for order in (
        (rmc("100000"), gga("100000", place=fine)),
        (gga("100000", place=fine), rmc("100000")),
    ):
        log = read_log(write(b"".join(map(sentence, order))))
        assert log.lat_deg[0] == pytest.approx(52 + 12.3456789 / 60, abs=1e-13)


def test_vtg_gives_velocity_to_the_sentence_before_it(write, sentence, gga):
    data = b"".join(
        sentence(s)
        for i in range(12)
        for s in (gga(f"1000{i:02}.00"), f"GPVTG,{i}.0,T,,M,,N,{36 + i}.0,K,A")
    )
    log = read_log(write(data))
    assert log.speed_mps == pytest.approx((36 + np.arange(12)) * KMH_MPS)
    assert log.heading_deg.tolist() == list(range(12))


def test_old_vtg_without_letters_is_read(write, sentence, gga):
    log = read_log(write(sentence(gga("100000")) + sentence("GPVTG,90.5,88.1,10.0,18.5")))
    assert log.speed_mps == pytest.approx([10 * KNOT_MPS])
    assert log.heading_deg.tolist() == [90.5]


@pytest.mark.parametrize(
    ("mode", "quality"), [("AN", 1), ("NA", 1), ("DA", 2), ("RR", 4), ("FN", 5), ("E", 6)]
)
def test_gns_is_read(write, sentence, mode, quality):
    log = read_log(write(sentence(f"GNGNS,100000.00,{PLACE},{mode},12,0.7,80.5,47.1,,")))
    assert log.fix_quality.tolist() == [quality]
    assert log.height_m.tolist() == [80.5]
    assert log.satellites.tolist() == [12]


def test_the_date_is_carried_to_epochs_without_one_and_across_midnight(
    write, sentence, rmc, gga, utc
):
    bodies = [gga("235957"), rmc("235958"), gga("235959"), gga("000000"), gga("000001")]
    log = read_log(write(b"".join(map(sentence, bodies))))
    assert log.time_s[0] == utc(2026, 5, 2, 23, 59, 57)
    assert np.diff(log.time_s).tolist() == [1, 1, 1, 1]


def test_dates_go_on_over_midnight(write, sentence, rmc, utc):
    bodies = [rmc("235959.5", "311226"), rmc("000000.0", "010127")]
    log = read_log(write(b"".join(map(sentence, bodies))))
    assert log.time_s.tolist() == [utc(2026, 12, 31, 23, 59, 59, 500_000), utc(2027, 1, 1)]


@pytest.mark.parametrize(
    ("mode", "quality"), [("A", 1), ("D", 2), ("R", 4), ("Q", None), ("", None)]
)
def test_the_mode_of_rmc_is_a_fix_quality_where_no_other_sentence_gives_one(
    write, sentence, rmc, gga, mode, quality
):
    body = rmc("100000").removesuffix("A") + mode
    alone = read_log(write(sentence(body))).fix_quality
    assert (None if alone is None else alone.tolist()) == (quality and [quality])
    assert read_log(write(sentence(body) + sentence(gga("100000", 5)))).fix_quality.tolist() == [5]


def test_each_date_holds_from_where_it_stands(write, sentence, rmc, gga, utc):
    """A logger that was off for a day and begins at a later time of day."""
    bodies = []
    for hour, date in ((10, "020526"), (11, "030526")):
        bodies += [rmc(f"{hour}0000", date), *(gga(f"{hour}00{i:02}") for i in range(1, 30))]
    first, second = read_logs(write(b"".join(map(sentence, bodies))))
    assert (first.time_s[0], first.time_s[-1]) == (utc(2026, 5, 2, 10), utc(2026, 5, 2, 10, 0, 29))
    assert (second.time_s[0], len(second)) == (utc(2026, 5, 3, 11), 30)


def test_without_any_date_there_is_no_clock(write, sentence, gga):
    log = read_log(write(b"".join(sentence(gga(c)) for c in ("235959", "000000", "000001"))))
    assert not log.has_clock
    assert log.time_s.tolist() == [0, 1, 2]
    assert "none in the file" in log.guesses["date"]


@pytest.mark.parametrize(
    ("text", "date"),
    [
        (b"230394", (1994, 3, 23)), (b"010180", (1980, 1, 1)), (b"311279", (2079, 12, 31)),
        (b"290200", (2000, 2, 29)),
    ],
)  # fmt: skip
def test_two_digit_years_from_80_on_are_of_19xx(text, date):
    assert read_day(text) == (datetime(*date) - datetime(1970, 1, 1)).days  # noqa: DTZ001


@pytest.mark.parametrize("text", [b"", b"310226", b"001226", b"0102266", b"0a0226", b" 10226"])
def test_what_is_no_date_is_no_day(text):
    assert read_day(text) == NO_DAY


def test_a_leap_second_belongs_to_the_next_minute(write, sentence, rmc, utc):
    log = read_log(write(sentence(rmc("235960.5", "311216"))))
    assert log.time_s.tolist() == [utc(2017, 1, 1, 0, 0, 0, 500_000)]


def test_sentences_across_chunks_and_megabytes_without_a_line_end(write, sentence, rmc):
    filler = b"\x80" * 300_000
    data = sentence(rmc("100000")) + filler + sentence(rmc("100001")).strip() + filler
    log = read_log(write(data + sentence(rmc("100002"))))
    assert len(log) == 3


def test_the_clock_may_step_back_a_little(write, sentence, rmc, reasons):
    clocks = ["100000.0", "100001.0", "100000.7", "100002.0"]
    log = read_log(write(b"".join(sentence(rmc(c)) for c in clocks)))
    assert len(log) == 3
    assert reasons(log) == {"going back in time": 1}


@given(
    st.lists(
        st.tuples(
            st.floats(-89.9, 89.9).filter(lambda v: abs(v) > 1e-3),
            st.floats(-179.9, 179.9),
            st.integers(1, 50),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_positions_come_back_to_the_last_digit_of_a_minute(round_trip, rmc, utc, points):
    path, sentence = round_trip
    data, hundredths = b"", 0
    for lat, lon, step in points:
        hundredths += step
        sides = "S" if lat < 0 else "N", "W" if lon < 0 else "E"
        place = f"{minutes(lat, 2)},{sides[0]},{minutes(lon, 3)},{sides[1]}"
        data += sentence(
            rmc(f"10{hundredths // 6000:02}{hundredths % 6000 / 100:05.2f}", place=place)
        )
    path.write_bytes(data)
    log = read_log(path)
    assert log.lat_deg == pytest.approx([p[0] for p in points], abs=0.5e-7 / 60 + 1e-12)
    assert log.lon_deg == pytest.approx([p[1] for p in points], abs=0.5e-7 / 60 + 1e-12)
    elapsed = np.cumsum([p[2] for p in points]) / 100
    assert log.time_s == pytest.approx(utc(2026, 5, 2, 10) + elapsed, abs=1e-6)


def minutes(degrees, width):
    whole, ten_millionths = divmod(round(abs(degrees) * 60 * 10**7), 60 * 10**7)
    return f"{whole:0{width}}{ten_millionths // 10**7:02}.{ten_millionths % 10**7:07}"


@pytest.fixture(scope="module")
def round_trip(tmp_path_factory):
    def framed(body):
        return f"${body}*{checksum(body.encode()):02X}\r\n".encode()

    return tmp_path_factory.mktemp("nmea") / "log", framed
