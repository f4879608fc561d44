"""NMEA 0183 sentences with values known from outside.

Sources: the first two valid sentences and both with wrong sums are widely published examples
(read), the third valid one likewise (memory). A knot is 1852 m an hour by definition (SI brochure).
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from lapkit.errors import LogError
from lapkit.importer import read_log, read_logs

RMC = "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A"
GGA = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"
WEST = "$GPRMC,220516,A,5133.82,N,00042.24,W,173.8,231.8,130694,004.2,W*70"
WRONG = [
    "$GPRMC,123522,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6F",
    "$GPRMC,092204.999,A,0829.4989,N,07656.6084,E,0.00,89.68,211200,,A*25",
]
RIGHT_SUMS = ["62", "7E"]


@pytest.fixture
def log_of(tmp_path):
    def read(*lines):
        path = tmp_path / "log.nmea"
        path.write_text("\r\n".join(lines) + "\r\n")
        return read_log(path)

    return read


def test_a_published_rmc_sentence_is_read(log_of):
    log = log_of(RMC)
    assert log.lat_deg == pytest.approx([48.1173], abs=1e-10)
    assert log.lon_deg == pytest.approx([11.5166667], abs=5e-8)
    assert log.speed_mps == pytest.approx([11.523556], abs=5e-7)
    assert log.heading_deg.tolist() == [84.4]
    assert log.time_s.tolist() == [datetime(1994, 3, 23, 12, 35, 19, tzinfo=UTC).timestamp()]


def test_a_published_gga_sentence_is_read(log_of):
    log = log_of(GGA)
    assert log.lat_deg == pytest.approx([48.1173], abs=1e-10)
    assert log.height_m.tolist() == [545.4]
    assert log.hdop.tolist() == [0.9]
    assert log.satellites.tolist() == [8]
    assert log.fix_quality.tolist() == [1]
    assert not log.has_clock


def test_rmc_and_gga_of_one_epoch_are_one_fix(log_of):
    log = log_of(GGA, RMC)
    assert len(log) == 1
    assert log.has_velocity
    assert log.height_m.tolist() == [545.4]
    assert log.has_clock


def test_longitudes_west_are_negative(log_of):
    log = log_of(WEST)
    assert log.lat_deg == pytest.approx([51.5636667], abs=5e-8)
    assert log.lon_deg == pytest.approx([-0.704], abs=1e-10)
    assert log.speed_mps == pytest.approx([89.4104], abs=5e-5)
    assert log.heading_deg.tolist() == [231.8]
    assert log.time_s.tolist() == [datetime(1994, 6, 13, 22, 5, 16, tzinfo=UTC).timestamp()]


@pytest.mark.parametrize("line", WRONG)
def test_wrong_sums_are_rejected(tmp_path, line):
    path = tmp_path / "log.nmea"
    path.write_text(line + "\r\n")
    with pytest.raises(LogError, match="every RMC sentence has a wrong checksum"):
        read_logs(path)


@pytest.mark.parametrize(("line", "total"), list(zip(WRONG, RIGHT_SUMS, strict=True)))
def test_the_same_sentences_with_the_right_sums_are_read(log_of, line, total):
    assert len(log_of(line[:-2] + total)) == 1


def test_wrong_sums_among_right_ones_are_counted(log_of):
    log = log_of(RMC, *WRONG, GGA)
    assert len(log) == 1
    assert [(d.reason, d.count) for d in log.dropped] == [("with a wrong checksum", 2)]
