"""One run of the bundled event, measured once for all tests of the library."""

import pytest

import lapkit


@pytest.fixture(scope="session")
def folder():
    return lapkit.sample_event()


@pytest.fixture(scope="session")
def course(folder):
    return lapkit.read_course(folder / "track.geojson")


@pytest.fixture(scope="session")
def run(folder, course):
    return lapkit.measure(folder / "logs" / "iska-1.csv", course, rider="Iska")
