"""A problem of a track file in words."""

from lapkit.course.problem import Severity, error, warning


def test_a_problem_reads_as_place_fault_and_remedy():
    told = warning("order", "track.geojson, corner '3'", "its cones are mixed up", "Sort them.")
    assert str(told) == "track.geojson, corner '3': its cones are mixed up. Sort them."
    assert told.severity is Severity.WARNING and told.code == "order"


def test_what_stops_a_track_file_has_the_severity_error():
    assert error("order", "", "", "").severity is Severity.ERROR
