"""What every test shares."""

import os
import re
import resource
import shutil
from contextlib import contextmanager

# As the command line does, before numpy is imported: threads that wait for each other on a busy machine
# made one log take a minute.
for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import pytest  # noqa: E402
from hypothesis import settings  # noqa: E402

from lapkit.measuring.workers import cores  # noqa: E402

# The same examples on every run: a search for new ones belongs to tests/benchmarks/fuzz.py, not to a
# change that has nothing to do with what it would find. And nothing is timed: on a busy machine any test is slow.
settings.register_profile("same_every_run", derandomize=True, deadline=None)
settings.load_profile("same_every_run")


def pytest_xdist_auto_num_workers(config):
    """All tests run in as many processes as there are cores, a few of them in this one, which starts at once."""
    return cores() if config.args_source is pytest.Config.ArgsSource.TESTPATHS else 0


@pytest.fixture
def room_for():
    """A context in which no file of this process grows beyond a few bytes, as on a disk that is full."""

    @contextmanager
    def few(most_bytes):
        usual = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, usual[1]))
        try:
            yield
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, usual)

    return few


@pytest.fixture
def short(tmp_path):
    """An event folder with the first two minutes of a rider's log in the sample event: it holds no lap."""
    from lapkit.sample import sample_event

    folder = tmp_path / "short"
    folder.mkdir()
    lines = (sample_event() / "logs/iska-1.csv").read_text().splitlines(keepends=True)
    (folder / "iska-1.csv").write_text("".join(lines[:1200]))
    shutil.copy(sample_event() / "track.geojson", folder)
    (folder / "riders.csv").write_text("rider,session,file\nIska,1,iska-1.csv\n")
    return folder


@pytest.fixture
def north():
    """Writes a track file of the sample event again, a degree further north: as that of another course."""

    def moved(track, to):
        degrees = re.sub(
            r"(?<=, )4[01]\.\d+(?=[,\]])",
            lambda lat: f"{float(lat[0]) + 1.0:.8f}",
            track.read_text(),
        )
        to.write_text(degrees)

    return moved
