"""A course to walk, and the means to run commands, in this process and in one of their own."""

import subprocess
import sys

import gpxpy
import pytest
from click.testing import CliRunner

from lapkit.cli import group
from lapkit.course import place
from lapkit.errors import LapkitError
from lapkit.simulate.courses import LAYOUTS
from lapkit.simulate.layout_track import track_of
from lapkit.simulate.track_walk import walk_of


@pytest.fixture(scope="session")
def walk_file(tmp_path_factory):
    """The walk of a built-in course, with a waypoint in it that means nothing."""
    course = place(track_of(LAYOUTS["twisty"]))
    gpx = walk_of(course, seed=1)
    gpx.waypoints.append(gpxpy.gpx.GPXWaypoint(*course.plane.to_lat_lon(0.0, 9.0), name="toilets"))
    path = tmp_path_factory.mktemp("walk") / "walk.gpx"
    path.write_text(gpx.to_xml(), encoding="utf-8")
    return path


@pytest.fixture
def run():
    """Runs a command: exit code, stdout and stderr; lapkit's own errors come back as themselves."""

    def invoke(*args):
        result = CliRunner().invoke(group, [str(arg) for arg in args])
        if isinstance(result.exception, LapkitError):
            raise result.exception
        return result

    return invoke


@pytest.fixture
def process():
    """Runs a command as a process of its own, as a user does: exit status, and what it prints."""

    def started(*args):
        return subprocess.run(
            [sys.executable, "-m", "lapkit", *map(str, args)],
            capture_output=True,
            text=True,
            timeout=120,
        )

    return started
