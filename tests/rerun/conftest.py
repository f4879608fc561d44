"""A small event and its results, to be written again."""

import shutil
from multiprocessing.context import SpawnProcess

import pytest

from lapkit.measuring.packed import unpack
from lapkit.reporter.formats import Formats
from lapkit.rerun import KEPT, Wanted, write_event
from lapkit.simulate.courses import course_named
from lapkit.simulate.event import write_event as invent
from lapkit.simulate.invented_runs import Outline, invented_runs
from lapkit.simulate.receiver import Receiver


@pytest.fixture(scope="session")
def logs():
    """Names of the event's logs."""
    return ("day/abel.gpx.gz", "other/abel.gpx.gz")


@pytest.fixture(scope="session")
def only_tables():
    """Results without pages."""
    return Wanted(formats=Formats(pages=False))


@pytest.fixture(scope="session")
def made(tmp_path_factory, logs):
    """Two short runs, their logs of one name in two folders."""
    folder = tmp_path_factory.mktemp("made") / "event"
    runs = invented_runs(Outline(riders=2, sessions=1, laps=1, seed=3), Receiver(rate_hz=5.0))
    invent(course_named("sample"), runs, folder)
    lines = (folder / "riders.csv").read_text().splitlines()
    for i, name in enumerate(logs, 1):
        place = lines[0].split(",").index("file")
        cells = lines[i].split(",")
        (folder / name).parent.mkdir()
        (folder / cells[place]).rename(folder / name)
        cells[place] = name
        lines[i] = ",".join(cells)
    (folder / "riders.csv").write_text("\n".join(lines) + "\n")
    return folder


@pytest.fixture(scope="session")
def written(made, tmp_path_factory, only_tables):
    """The event's results, written in one process."""
    out = tmp_path_factory.mktemp("written") / "out"
    write_event(made, out, only_tables, workers=1)
    return out


@pytest.fixture
def again(made, written, tmp_path):
    """Copies of event and results to change."""
    shutil.copytree(made, tmp_path / "event")
    shutil.copytree(written, tmp_path / "out")
    return tmp_path / "event", tmp_path / "out"


@pytest.fixture
def opened(written, monkeypatch):
    """Names of the logs that were measured; what came of them before is given for it, to save time."""
    earlier = {}
    for path in (written / KEPT).iterdir():
        measured = unpack(path.read_bytes())
        earlier[measured.runs[0].rider] = measured
    names = []

    def measure(entry, *_):
        names.append(entry.file)
        return earlier[entry.rider]

    monkeypatch.setattr("lapkit.measuring.jobs.measure_entry", measure)
    return names


@pytest.fixture
def started(monkeypatch):
    """Workers that were started."""
    found = []
    start = SpawnProcess.start
    monkeypatch.setattr(SpawnProcess, "start", lambda own: found.append(own) or start(own))
    return found


@pytest.fixture
def tables():
    """Reads every table of some results as bytes."""

    def read(out):
        return {p.name: p.read_bytes() for p in out.iterdir() if p.suffix == ".csv"}

    return read
