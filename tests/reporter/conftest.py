"""A small invented day with everything a page can show, from rides that are known exactly."""

import re
import runpy
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lapkit.compare.changes import RunChanges
from lapkit.compare.results import RunOf, Unusable
from lapkit.compare.run import measure_run
from lapkit.compare.tables import began
from lapkit.findings import Code, EventCode, EventFinding, RiderReview, find, findings_table
from lapkit.findings.finding import Finding, Kind
from lapkit.measuring.reviews import EventReview
from lapkit.path.draws import PathDraws
from lapkit.reporter import write
from lapkit.reporter.event_page import event_page
from lapkit.reporter.figures import svg_of
from lapkit.reporter.rider_page import rider_page
from lapkit.season.answers import Answers, Change, Changed, Event, Ridden, SeamCalls, Trouble
from lapkit.simulate.courses import built_in
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES, Habit
from lapkit.splitter import split
from lapkit.units import Units

NASTY = "<script>document.title='run'</script> $x^2$ & \"q\" \u202e \x07"
"""A rider's name that is markup, a formula, and letters that are none."""

ROWS = 9


class KnownPath:
    """A ride as if recovered from a log: the truth, and rows shifted and leant a little beside it."""

    def __init__(self, ridden, seed):
        self.ridden = ridden
        self.fix_time_s = np.asarray(ridden.dense.time_s)[::10] + ridden.epoch_s
        self.fix_height_m = np.full(len(self.fix_time_s), np.nan)
        self.start_s, self.end_s = float(self.fix_time_s[0]), float(self.fix_time_s[-1])
        rng = np.random.default_rng(seed)
        self.shifts_m = np.concatenate([np.zeros((1, 2)), 0.3 * rng.standard_normal((ROWS - 1, 2))])
        self.stretch = 1.0 + 0.01 * np.append(0.0, rng.standard_normal(ROWS - 1))[:, None]

    def at(self, time_s, near_m=None):
        m = self.ridden.at(np.asarray(time_s) - self.ridden.epoch_s)
        rows = np.ones((ROWS, 1))
        return PathDraws(
            time_s=np.asarray(time_s),
            x_m=m.x_m + self.shifts_m[:, :1],
            y_m=m.y_m + self.shifts_m[:, 1:],
            vx_mps=rows * m.vx_mps,
            vy_mps=rows * m.vy_mps,
            ax_mps2=self.stretch * m.ax_mps2,
            ay_mps2=self.stretch * m.ay_mps2,
            lean_tangent=self.stretch * np.tan(np.arcsin(m.sin_lean)),
            com_height_m=rows * self.ridden.style.com_height_m,
        )

    def mean_xy(self, time_s):
        m = self.ridden.at(np.asarray(time_s) - self.ridden.epoch_s)
        return m.x_m, m.y_m

    def mean_speed(self, time_s):
        m = self.ridden.at(np.asarray(time_s) - self.ridden.epoch_s)
        return np.hypot(m.vx_mps, m.vy_mps)


def log_row(rider, session):
    note = "10 fixes a second. 2 fixes going back in time were left out."
    return pd.DataFrame(
        [(rider, session, "<b>.gpx", "0" * 64, 10.0, True, 0.06, 0.25, "hold_point", 0.4, 2, "good", note)],
        columns=[
            "rider", "session", "file", "sha256", "rate_hz", "has_velocity", "noise_m", "position_sd_m",
            "offset_from", "missing_s", "wild_fixes", "verdict", "note",
        ],
    )  # fmt: skip


def measured(course, style, rider, session, seed, laps=3):
    ridden = ride(course, style, laps=laps, seed=seed, epoch_s=1.78e9 + 4000.0 * int(session))
    path = KnownPath(ridden, seed)
    run = measure_run(path, split(path, course), course, RunOf(rider, session))
    run.tables["logs"] = log_row(rider, session)
    return run


def joined(riders):
    runs = [run for rider in riders for run in rider.runs]
    tables = {n: pd.concat([r.tables[n] for r in runs], ignore_index=True) for n in runs[0].tables}
    return tables | {"findings": findings_table([f for r in riders for f in r.findings])}


@pytest.fixture(scope="session")
def course():
    """The sample course with words in it that are no text."""
    plain = built_in("sample")
    first = replace(plain.corners[0], cues=(NASTY, *plain.corners[0].cues), hazards=(NASTY,))
    return replace(plain, corners=(first, *plain.corners[1:]))


@pytest.fixture(scope="session")
def event(course):
    """Two riders, one of them inside the seam and with a name of markup; one log of no use."""
    inside = replace(STYLES["smooth"], habit=Habit(inside_seam_exit=True))
    nasty_runs = tuple(measured(course, inside, NASTY, s, 4 + int(s)) for s in "12")
    other_runs = (measured(course, STYLES["smooth"], "Bo", "1", 9),)
    corner = course.corners[0].name
    said = (
        Finding(NASTY, corner, Code.INSIDE_SEAM, 5, 6, 0.99, 1.0, NASTY, NASTY, Kind.WORK, 180.0, lap=1, session="1"),
        Finding(NASTY, "", Code.UNEVEN, 3, 6, 0.95, 1.0, "Uneven.", "", Kind.MIND, lap=2, session="2"),
        *find(nasty_runs, course),
    )  # fmt: skip
    riders = (
        RiderReview(
            NASTY,
            "novice",
            nasty_runs,
            said,
            ("a <i>bike</i>",) * 2,
            changed=RunChanges(nasty_runs).every(),
        ),
        RiderReview("Bo", "quick", other_runs, find(other_runs, course)),
    )
    unusable = (Unusable("Cy", "1", "<img src=x>.csv", "1 fix a second <b>"),)
    provenance = {"version": "0", "inputs": {"a": "0" * 64}}
    about = (
        EventFinding(EventCode.APART, f"{NASTY} rides otherwise."),
        EventFinding(EventCode.CONE_MISSED, "A <cone>."),
    )
    tables = joined(riders)
    return EventReview(
        course, riders, unusable, tables, provenance, ("A note.",), "Day & night", about,
        began=began(tables["laps"]),
    )  # fmt: skip


@pytest.fixture(scope="session")
def found_event(event):
    """The same day without a track file: no cones, seams, edges, marker line."""
    bare = tuple(
        replace(c, name=str(i), markers=(), seams=(), cues=(), hazards=())
        for i, c in enumerate(event.course.corners, 1)
    )
    course = replace(
        event.course, corners=bare, edges=None,
        marker_line=None, marker_line_from="none", found=True, track=None, hazards=(),
    )  # fmt: skip
    run = measured(course, STYLES["smooth"], "Bo", "1", 9)
    rider = RiderReview("Bo", "", (run,), find((run,), course))
    return EventReview(course, (rider,), (), joined((rider,)), {"version": "0"}, (), "Bo")


@pytest.fixture(scope="session")
def laps(event):
    """A corner, and all laps of one rider through it."""
    rider, corner = event.riders[0], event.course.corners[1]
    return corner, [t for run in rider.runs for t in run.traces if t.corner == corner.name]


@pytest.fixture(scope="session")
def drawn():
    """Writes a figure of a corner out as SVG."""
    return lambda figure: str(svg_of(figure, "x-", "title", "words"))


@pytest.fixture(scope="session")
def paths():
    """Picks the lines of one colour out of an SVG, each as an array ``(points, 2)``."""

    def of(svg, color):
        found = re.findall(rf'<path d="([^"]+)"[^>]*style="[^"]*stroke: {color}[^"]*"', svg)
        return [np.array(re.findall(r"-?[\d.]+", p), dtype=float).reshape(-1, 2) for p in found]

    return of


@pytest.fixture(scope="session")
def grow():
    """Functions that make long days and large events out of small ones."""
    return runpy.run_path(str(Path(__file__).with_name("grow.py")))


@pytest.fixture(scope="session")
def crowded(event, grow):
    """Forty riders of a dozen laps on sixteen corners."""
    riders = tuple(grow["grown"](rider, 12) for rider in event.riders)
    return grow["crowd"](replace(event, riders=riders), 40, 16)


@pytest.fixture(scope="module")
def nasty(event):
    """The page of the rider whose name is markup."""
    return rider_page(event, event.riders[0], units=Units.METRIC)


@pytest.fixture(scope="module")
def summary(event):
    """The event's page."""
    links = {r.rider: f"rider-{i}.html" for i, r in enumerate(event.riders)}
    return event_page(event, units=Units.METRIC, links=links)


@pytest.fixture(scope="module")
def found(found_event):
    """A rider's page of a day without a track file."""
    return rider_page(found_event, found_event.riders[0], units=Units.US).html


@pytest.fixture(scope="module")
def folder(event, tmp_path_factory):
    """The day's pages as files."""
    out = tmp_path_factory.mktemp("pages") / "out"
    write(event, out)
    return out


@pytest.fixture(params=["event.html", "nasty", "bo"])
def page(request, folder):
    """Each of the day's pages in turn."""
    if request.param == "event.html":
        return folder / request.param
    riders = sorted(folder.glob("rider-*.html"))
    return next(p for p in riders if (p.stem == "rider-bo") == (request.param == "bo"))


CHROMIUM = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)
QUIET = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--disable-dev-shm-usage",
)  # fmt: skip


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    """Chromium without a window; a test that asks for it is skipped where there is none."""
    driver = shutil.which("chromedriver")
    if not (CHROMIUM and driver):
        pytest.skip("no Chromium with chromedriver on this machine")
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for argument in (*QUIET, f"--user-data-dir={tmp_path_factory.mktemp('profile')}"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    started = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
    yield started
    started.quit()


@pytest.fixture
def see():
    """Opens a page in the browser, so many pixels wide."""

    def opened(browser, page, width=1280):
        size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 500}
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        browser.get(page.as_uri())

    return opened


SEASON_EVENTS = (
    Event(1, "spring", "2031-04-01", 1, 2),
    Event(2, "<b>\x1b[2Jsummer", None, 1, 2),
)


@pytest.fixture
def answers():
    """What a season of two events answers of a rider: everything changed, and one corner troubles him."""
    radius, lean, unknown = (60.2, 58.3, 62.1), (40.1, 39.0, 41.2), (None, None, None)
    seams = SeamCalls("s", 4, 1, 1, True), SeamCalls("t", 6, 0, 0, False)
    return Answers(
        rider="Tove",
        corner=None,
        events=SEASON_EVENTS,
        ridden=(
            Ridden("Tove", "Larch", "left", 1, 6, radius, lean, 5, 6, "turning in early", seams),
            Ridden("Tove", "Larch", "left", 2, 6, unknown, unknown, 0, 0, "", ()),
        ),
        changes=(
            Change("Tove", "Larch", 1, 2, Changed.RADIUS, 60.2, 66.4),
            Change("Tove", "Larch", 1, 2, Changed.LEAN, 40.1, 36.7),
            Change("Tove", "Larch", 1, 2, Changed.TIGHTENED, 5, 1, 6, 12),
            Change("Tove", "Larch", 1, 2, Changed.INSIDE, 1, 9, 6, 10, "s"),
        ),
        trouble=(Trouble("Larch", 1, "Tove", 5, 6, 0, 0, 3, (("turning in early", 2),), True),),
    )
