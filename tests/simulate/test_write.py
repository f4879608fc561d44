from __future__ import annotations

import gzip

import numpy as np
import pytest

from lapkit.errors import OptionError
from lapkit.importer import read_log
from lapkit.importer.log import Log
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.write import write_log


@pytest.fixture(scope="module")
def log(circle):
    return observe(circle, Receiver(missing_share=0.01), 3)


@pytest.mark.parametrize("name", ["a.gpx", "a.gpx.gz", "a.csv", "a.csv.gz", "a.nmea", "a.nmea.gz"])
def test_what_is_written_is_read_again(log, tmp_path, name):
    write_log(log, tmp_path / name)
    again = read_log(tmp_path / name)
    assert len(again) == len(log)
    assert np.allclose(again.time_s, log.time_s, atol=6e-4)
    assert np.allclose(again.lat_deg, log.lat_deg, atol=6e-8)
    assert np.allclose(again.lon_deg, log.lon_deg, atol=6e-8)
    assert np.allclose(again.speed_mps, log.speed_mps, atol=0.006)
    apart = np.abs(again.heading_deg - log.heading_deg)
    assert np.minimum(apart, 360.0 - apart).max() < 0.006
    assert np.allclose(again.height_m, log.height_m, atol=0.006)
    assert again.dropped == ()


@pytest.mark.parametrize("name", ["a.gpx", "a.csv", "a.nmea"])
def test_channels_that_are_not_there_are_not_written(circle, tmp_path, name):
    plain = observe(circle, Receiver(velocity_mps=None, height_m=None), 3)
    write_log(plain, tmp_path / name)
    again = read_log(tmp_path / name)
    assert not again.has_velocity
    assert len(again) == len(plain)


def test_the_same_log_gives_the_same_bytes(log, tmp_path):
    for name in ("one.gpx.gz", "two.gpx.gz"):
        write_log(log, tmp_path / name)
    assert (tmp_path / "one.gpx.gz").read_bytes() == (tmp_path / "two.gpx.gz").read_bytes()
    assert gzip.decompress((tmp_path / "one.gpx.gz").read_bytes()).startswith(b"<?xml")


def test_nmea_minutes_carry_over_and_sides_are_named(tmp_path):
    log = Log(
        "x", "", np.array([0.0, 1.0]), np.array([-0.99999999999, 12.5]), np.array([179.5, -7.25])
    )
    write_log(log, tmp_path / "a.nmea")
    lines = (tmp_path / "a.nmea").read_text().splitlines()
    assert lines[0].startswith("$GNRMC,000000.000,A,0100.000000,S,17930.000000,E,,,010170,")
    assert ",1230.000000,N,00715.000000,W," in lines[2]


def test_an_unknown_ending_is_refused(log, tmp_path):
    with pytest.raises(OptionError, match="gpx"):
        write_log(log, tmp_path / "a.kml")
