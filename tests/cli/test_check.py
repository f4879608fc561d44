"""``lapkit check``: what it says of logs."""

from __future__ import annotations

import gzip
import re

import numpy as np
import pytest
from click.testing import CliRunner

from lapkit.cli.check import command
from lapkit.errors import LogError


@pytest.fixture
def ride(tmp_path):
    """A path of a CSV of a minute on a circle, ten fixes a second, speed without a unit."""
    angle = np.arange(600) / 25
    lat, lon = 0.1 + np.sin(angle) * 5e-4, 0.1 + np.cos(angle) * 5e-4
    rows = [
        f"{t / 10:.1f},{a:.7f},{o:.7f},80.0" for t, (a, o) in enumerate(zip(lat, lon, strict=True))
    ]
    path = tmp_path / "ride.csv"
    path.write_text("\n".join(["time (s),lat,lon,speed", *rows]))
    return path


def test_check_says_what_the_log_can_carry_and_what_was_guessed(ride):
    done = CliRunner().invoke(command, [str(ride)])
    assert done.exit_code == 0
    first, *rest = done.stdout.splitlines()
    assert first == f"{ride}: good"
    assert "10 fixes a second" in rest[0]
    assert "fine enough for bends down to" in rest[1]
    assert any("speed unit: km/h, because it agrees with the positions" in line for line in rest)


def test_a_log_that_breaks_off_is_good_as_far_as_it_goes(ride, tmp_path):
    packed = gzip.compress(ride.read_bytes())
    cut = tmp_path / "cut.csv.gz"
    cut.write_bytes(packed[: len(packed) * 9 // 10])
    first, *_ = CliRunner().invoke(command, [str(cut)]).stdout.splitlines()
    assert first == f"{cut}: good, as far as it goes: it breaks off"


def test_when_a_log_with_a_date_was_begun_is_said(ride, tmp_path):
    dated = tmp_path / "dated.csv"
    header, *rows = ride.read_text().splitlines()
    start = 1_934_000_000
    moved = [f"{start + float(row.split(',')[0]):.1f},{row.split(',', 1)[1]}" for row in rows]
    dated.write_text("\n".join([header.replace("time (s)", "time"), *moved]))
    first, *_ = CliRunner().invoke(command, [str(dated)]).stdout.splitlines()
    assert first == f"{dated}: good, begun 15 April 2031, 06:13 UTC"


def test_one_bad_log_does_not_stop_the_others(ride, tmp_path):
    done = CliRunner().invoke(command, [str(tmp_path / "none.gpx"), str(ride)])
    assert done.exit_code == 0
    assert "none.gpx: there is no such file. Check its name." in done.stderr
    assert f"{ride}: good" in done.stdout


def test_when_nothing_is_usable_that_is_an_error(ride, tmp_path):
    alone = CliRunner().invoke(command, [str(tmp_path / "none.gpx")])
    assert isinstance(alone.exception, LogError)
    scrap = tmp_path / "scrap.csv"
    scrap.write_text("time (s),lat,lon\n0,52,1\n")
    both = CliRunner().invoke(command, [str(scrap), str(tmp_path / "none.gpx")])
    assert isinstance(both.exception, LogError)
    assert "no lap can be told" in str(both.exception)
    assert f"{scrap}: unusable" in both.stdout


def test_columns_and_size_are_handed_on(ride):
    told = CliRunner().invoke(command, [str(ride), "--columns", "height=speed"])
    assert "column height: speed" in told.stdout
    small = CliRunner().invoke(command, [str(ride), "--max-size", "1"])
    assert small.exit_code == 0
    ride.write_bytes(b" " * 2 * 1024**2)
    assert "--max-size" in str(
        CliRunner().invoke(command, [str(ride), "--max-size", "1"]).exception
    )


def test_parts_of_a_log_whose_clock_jumped_are_told_apart(tmp_path):
    path = tmp_path / "day.csv"
    times = [*range(1000, 1060), *range(60)]
    rows = [f"{t},{52 + i * 1e-4:.5f},1" for i, t in enumerate(times)]
    path.write_text("\n".join(["time (s),lat,lon", *rows]))
    lines = CliRunner().invoke(command, [str(path)]).stdout
    assert f"{path} part 1 of 2:" in lines
    assert f"{path} part 2 of 2:" in lines


def test_a_base_log_is_of_use_though_no_lap_is_in_it(tmp_path):
    path = tmp_path / "base.csv"
    sway = np.random.default_rng(1).normal(0.0, 3e-6, (2, 1200))
    at = 1_900_000_000
    rows = [f"{at + t},{52 + a:.7f},{1 + o:.7f}" for t, (a, o) in enumerate(sway.T)]
    path.write_text("\n".join(["time (s),lat,lon", *rows]))
    done = CliRunner().invoke(command, [str(path)])
    assert done.exit_code == 0
    assert done.stdout.startswith(f"{path}: standing receiver, begun 17 March 2030")
    assert "of use as a base log" in done.stdout


def test_what_was_left_out_is_told(tmp_path):
    path = tmp_path / "log.csv"
    rows = [f"{t},{52 + t * 1e-4:.5f},1" for t in range(60)]
    path.write_text("\n".join(["time (s),lat,lon", *rows, "5,0,0"]))
    told = CliRunner().invoke(command, [str(path)]).stdout
    assert "  1 fix at position 0, 0 (which means no fix) was left out." in told


def test_check_speaks_in_feet_and_miles_when_asked(ride):
    metric, us = (
        CliRunner().invoke(command, [str(ride), "--units", units]).stdout.splitlines()
        for units in ("metric", "us")
    )
    kmh, metres = re.search(r"At (\d+) km/h.* down to (\d+) m radius\.", metric[2]).groups()
    mph, feet = re.search(r"At (\d+) mph.* down to (\d+) ft radius\.", us[2]).groups()
    assert (int(mph), int(feet)) == (round(int(kmh) / 1.609344), round(int(metres) / 0.3048))
    # What was read stays as the file has it.
    assert metric[-1] == us[-1] and "km/h" in us[-1]
