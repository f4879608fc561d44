"""The problems of a track file on the terminal."""

from lapkit.cli.problems import tell
from lapkit.course.problem import error, warning
from lapkit.units import Units

PROBLEMS = [
    error("a", "t.geojson", "it is 3 m off", "Move it."),
    warning("b", "t.geojson", "it is odd", "Look at it."),
]


def test_each_is_a_line_on_stderr_and_the_errors_are_counted(capsys):
    assert tell(PROBLEMS) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines() == [
        "error: t.geojson: it is 3 m off. Move it.",
        "warning: t.geojson: it is odd. Look at it.",
    ]


def test_lengths_come_in_the_units_of_the_reader(capsys):
    tell(PROBLEMS, Units.US)
    assert "it is 10 ft off" in capsys.readouterr().err
