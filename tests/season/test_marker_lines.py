"""Where the marker line became another is told beside the event, from its radius and the seams that it runs inside."""

import json

import pytest

from lapkit.season.questions import ask
from lapkit.season.results import read_results
from lapkit.season.store import add_event

TOVE = {"Tove": (60.0, 30.0, 0, 0)}


@pytest.fixture
def added(event, season):
    """Adds an event whose marker line keeps so much at the exits of a corner, and has that seam counted there."""

    def add(name, day, line_m=60.0, corner="Larch", counted="first", **more):
        folder = event(name, day, TOVE, **more)
        path = folder / "results.json"
        whole = json.loads(path.read_text())
        corners, seams = whole["tables"]["corners"], whole["tables"]["seams"]
        radius, ratio, at = map(
            corners["columns"].index, ("exit_radius_min_m", "exit_radius_ratio", "corner")
        )
        for row in corners["rows"]:
            if row[at] == corner:
                row[ratio] = line_m and row[radius] / line_m
        for row in seams["rows"]:
            if row[seams["columns"].index("corner")] == corner:
                row[seams["columns"].index("counted")] = (
                    row[seams["columns"].index("seam")] == counted
                )
        path.write_text(json.dumps(whole))
        add_event(season, read_results(folder))

    return add


def other(season, **asked):
    return [event.other_line for event in ask(season, **asked).events]


def test_a_line_of_another_radius_is_told_at_the_event_where_it_was_new(added, season):
    added("summer", "2031-07-01", 66.0)
    added("spring", "2031-04-01", 60.0)
    added("autumn", "2031-10-01", 66.5)
    assert other(season) == [(), ("Larch",), ()]
    assert other(season, rider="Tove", corner="Larch") == [(), ("Larch",), ()]
    assert other(season, corner="Anvil") == [(), (), ()]


def test_a_line_that_crosses_a_seam_elsewhere_is_another(added, season):
    added("spring", "2031-04-01")
    added("summer", "2031-07-01", corner="Anvil", counted="second")
    added("autumn", "2031-10-01", corner="Anvil", counted="none")
    assert other(season) == [(), ("Anvil",), ("Anvil",)]


def test_cones_set_once_more_and_a_line_that_is_not_known_are_nothing_to_tell(added, season):
    added("spring", "2031-04-01", 60.0)
    added("summer", "2031-07-01", 62.5)
    added("autumn", "2031-10-01", None)
    added("winter", "2031-12-01", 80.0)
    assert other(season) == [(), (), (), ()]


def test_another_course_has_a_line_of_its_own(added, season):
    added("spring", "2031-04-01", 60.0)
    added("elsewhere", "2031-05-01", 90.0, corners=("Larch", "Weir"))
    added("summer", "2031-07-01", 60.0)
    assert other(season) == [(), (), ()]
