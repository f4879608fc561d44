"""A problem of a track file in words."""

from lapkit.course.problem import Severity, error, warning


def test_a_problem_reads_as_place_fault_and_remedy():
    told = warning("order", "track.geojson, corner '3'", "its cones are mixed up", "Sort them.")
    assert str(told) == "track.geojson, corner '3': its cones are mixed up. Sort them."
    assert told.severity is Severity.WARNING and told.code == "order"


def test_an_error_stops():
    assert error("order", "", "", "").severity is Severity.ERROR
