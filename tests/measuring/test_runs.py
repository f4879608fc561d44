"""One rider's run: whose it is, and what a log that cannot be used leaves behind."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from lapkit.errors import EventError, LogError
from lapkit.importer.quality import assess
from lapkit.importer.riders_file import Entry
from lapkit.measuring.options import Options
from lapkit.measuring.runs import (
    _of_path,
    _position_sd_m,
    by_rider,
    log_table,
    logs_of,
    measure_entry,
)
from lapkit.path.jumps import Jumps
from lapkit.path.offset import PositionOffset
from lapkit.path.offset_knots import OffsetKnots
from lapkit.path.ridden import ride_path
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES
from lapkit.splitter import Lap, LapKind


class Part:
    def __init__(self, rider):
        self.rider = rider


def entry(rider, path="none.csv"):
    return Entry(rider, "3", str(path), path)


def test_a_file_that_names_several_riders_is_believed():
    told = [(r, s) for r, s, _ in by_rider([Part("Bo"), Part("Cy"), Part("Bo")], entry("all"))]
    assert told == [("Bo", "3"), ("Cy", "3"), ("Bo", "3 part 2")]


def test_a_line_that_names_one_of_them_is_about_him():
    told = [(r, s) for r, s, _ in by_rider([Part("Bo"), Part("Cy"), Part("Bo")], entry("Bo"))]
    assert told == [("Bo", "3"), ("Bo", "3 part 2")]


def test_a_single_name_in_the_file_does_not_rename_the_rider():
    assert [r for r, _, _ in by_rider([Part("device 7")], entry("Bo"))] == ["Bo"]


def test_want_of_memory_is_no_fault_of_ours(monkeypatch):
    def broken(*_, **__):
        raise MemoryError

    monkeypatch.setattr("lapkit.measuring.runs.read_logs", broken)
    _, (unusable,) = measure_entry(entry("Bo"), None, Options())
    assert unusable.for_now
    assert unusable.reason.startswith("there was not enough memory for it; close other programs")


def test_a_fault_of_ours_costs_one_log_and_is_said(monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError("by zero")

    monkeypatch.setattr("lapkit.measuring.runs.read_logs", broken)
    monkeypatch.delenv("LAPKIT_DEBUG", raising=False)
    runs, (unusable,) = measure_entry(entry("Bo"), None, Options())
    assert not runs
    assert unusable.rider == "Bo"
    assert unusable.reason == "a fault in lapkit itself (ZeroDivisionError: by zero)"
    monkeypatch.setenv("LAPKIT_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        measure_entry(entry("Bo"), None, Options())


def test_a_log_that_cannot_be_read_leaves_a_record_with_the_reason(monkeypatch):
    def unreadable(*_, **__):
        raise LogError("it holds no fix", where="none.csv", remedy="Export it again.")

    monkeypatch.setattr("lapkit.measuring.runs.read_logs", unreadable)
    runs, (unusable,) = measure_entry(entry("Bo"), None, Options())
    assert not runs
    assert (unusable.rider, unusable.session, unusable.file) == ("Bo", "3", "none.csv")
    assert unusable.reason == "it holds no fix"


def test_one_run_of_no_use_leaves_the_others_in_its_file(monkeypatch):
    """A file of two riders; the second one's run cannot be measured."""

    def measured(log, own, *_, **__):
        if own.rider == "Cy":
            raise LogError("ridden elsewhere", where="both.csv", remedy="")
        return type("Measured", (), {"result": f"run of {own.rider}"})()

    monkeypatch.setattr(
        "lapkit.measuring.runs.read_logs", lambda *_, **__: (Part("Bo"), Part("Cy"))
    )
    monkeypatch.setattr("lapkit.measuring.runs.measure_log", measured)
    runs, (unusable,) = measure_entry(entry("all"), None, Options())
    assert runs == ["run of Bo"]
    assert (unusable.rider, unusable.reason) == ("Cy", "ridden elsewhere")


def test_a_line_with_a_fault_keeps_its_file_closed(monkeypatch):
    monkeypatch.setattr(
        "lapkit.measuring.runs.read_logs", lambda *_, **__: pytest.fail("it was opened")
    )
    with pytest.raises(EventError, match="outside the event folder") as refused:
        logs_of(replace(entry("Bo"), fault="it lies outside the event folder"), Options())
    assert "riders.csv" in refused.value.remedy


def test_logs_are_read_as_the_options_say(monkeypatch):
    asked = []
    monkeypatch.setattr(
        "lapkit.measuring.runs.read_logs", lambda path, **how: asked.append((path, how))
    )
    options = Options(columns=(("time", "stamp"),), max_bytes=1000)
    logs_of(replace(entry("Bo", Path("a.csv")), sha256="12"), options)
    logs_of(entry("Bo", Path("b.csv")), Options())
    (_, first), (_, second) = asked
    assert first == {"columns": {"time": "stamp"}, "max_bytes": 1000, "sha256": "12"}
    assert second["columns"] is None


@pytest.mark.parametrize(
    ("lag_s", "told"),
    [
        (0.25, ["the logged velocity came 0.25 s late and was dated back"]),
        (-0.12, ["the logged velocity came 0.12 s early and was dated forward"]),
        (0.0, []),
    ],
)
def test_which_way_a_velocity_was_dated_is_told(lag_s, told):
    path = SimpleNamespace(
        offset=SimpleNamespace(notes=()),
        log=SimpleNamespace(dropped=()),
        jumps=SimpleNamespace(count=0),
        adrift_s=0.0,
        lag_s=lag_s,
        estimate=SimpleNamespace(wild_velocities=0, blur_s=0.0),
    )
    assert list(_of_path(path)) == told


@pytest.mark.parametrize(("by_m", "told"), [((3.0,), "once"), ((-3.0, 2.0), "2 times")])
def test_how_often_positions_jumped_and_how_far_is_told(by_m, told):
    by_m = np.array(by_m, dtype=complex)
    path = SimpleNamespace(
        offset=SimpleNamespace(notes=()),
        log=SimpleNamespace(dropped=()),
        jumps=Jumps(np.arange(len(by_m)), by_m, np.zeros(2)),
        adrift_s=0.0,
        lag_s=0.0,
        estimate=SimpleNamespace(wild_velocities=0, blur_s=0.0),
    )
    (note,) = _of_path(path)
    assert note.startswith(f"positions jumped {told}, by up to 3.0 m, ")


@pytest.mark.parametrize("speed_in", [1.0, 3.6])
def test_the_noise_of_velocities_is_told_where_they_took_part(speed_in):
    """A speed in km/h that was read as m/s does not agree with the positions and is left out."""
    course = built_in("sample")
    log = observe(ride(course, STYLES["smooth"], laps=1, seed=5, epoch_s=1.78e9), Receiver(), 6)
    log = replace(log, speed_mps=log.speed_mps * speed_in)
    path = ride_path(log, course.plane, draws=2)
    (row,) = log_table(path, (), assess(log), entry("Bo")).to_dict("records")
    assert row["has_velocity"]
    assert np.isfinite(row["velocity_noise_mps"]) == (speed_in == 1.0)


def test_how_far_positions_may_be_off_is_told_of_the_timed_laps():
    knots = OffsetKnots.covering(0.0, 3600.0)
    sd_m = np.where(knots.time_s < 3000.0, 2.0, 0.4)  # an hour logged, ten minutes of it ridden
    path = SimpleNamespace(offset=PositionOffset(knots, np.zeros(()), np.tile(sd_m, (2, 1))))

    def lap(kind, start_s, end_s):
        return Lap(0, kind, start_s, end_s, 90.0, 0.01, 2000.0, 900, 0.0)

    laps = [lap(LapKind.OUT, 10.0, 3100.0), lap(LapKind.TIMED, 3100.0, 3500.0)]
    assert _position_sd_m(path, laps) == pytest.approx(0.4)
    assert _position_sd_m(path, laps[:1]) == path.offset.typical_sd_m() > 1.5
