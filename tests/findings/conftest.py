"""Runs made up as tables: a rider on his line but for what a test puts in."""

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtr

from lapkit.compare import corners as corner_table
from lapkit.compare import markers as marker_table
from lapkit.compare.results import RunResult
from lapkit.course.course import Corner, Course, CourseMarker, CourseSeam
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind, Turn
from lapkit.findings import Kind

CORNERS = ("Birch", "Quarry", "Weir", "Barn")
LINE_EXIT_M = 50.0


def circle(radius_m):
    angle = np.linspace(0.0, 2 * np.pi, 1501)
    return StationLine.through(radius_m * np.cos(angle), radius_m * np.sin(angle), True)


def corner(name, index, camber_deg):
    """A corner of 60 m on a circle of 80 m radius, 120 m after the one before."""
    start = 20.0 + 120.0 * index

    def cone(cone_name, kind, side, station, radius_m):
        angle = station / 80.0
        return CourseMarker(
            cone_name, kind, side, radius_m * np.cos(angle), radius_m * np.sin(angle), station,
            80.0 - radius_m, camber_deg, 1.5,
        )  # fmt: skip

    cones = (
        cone("turn-in", MarkerKind.TURN_IN, Turn.RIGHT, start, 86.0),
        cone("apex", MarkerKind.APEX, Turn.LEFT, start + 30.0, 79.0),
        cone("exit", MarkerKind.EXIT, Turn.RIGHT, start + 60.0, 86.0),
    )
    ends = np.array([start - 30.0, start + 90.0])
    seams = (CourseSeam("first seam", ends, np.full(2, 0.0)),)
    cues = ("Slow in.", "Wait for the turn-in cone.", "Let it run out to the exit cone.")
    return Corner(
        name, Turn.LEFT, start, (start + 30.0,), start + 60.0, cones, seams, camber_deg, cues=cues
    )


@pytest.fixture(scope="session")
def course():
    """Four left-handers; Quarry falls away by 3°. The marker line runs 2 m outside of the one seam."""
    camber = {"Quarry": -3.0}
    return Course(
        plane=Plane(47.0, 8.0),
        reference=circle(80.0),
        start_line=np.array([[70.0, 0.0], [90.0, 0.0]]),
        corners=tuple(corner(n, i, camber.get(n, 0.0)) for i, n in enumerate(CORNERS)),
        marker_line=circle(82.0),
        marker_line_from="given",
    )


def corner_row(lap, name, changed):
    """A line of the table ``corners`` on the marker line, but for the columns changed."""
    row = dict.fromkeys(corner_table.ALL_COLUMNS, np.nan)
    row |= {
        "lap": lap, "corner": name, "turn": "left", "quality": "good", "time_s": 3.0,
        "entry_speed_mps": 22.0, "slowest_mps": 20.0, "exit_speed_mps": 22.0, "radius_min_m": 52.0,
        "exit_radius_min_m": LINE_EXIT_M, "line_exit_radius_min_m": LINE_EXIT_M,
        "exit_radius_ratio": 1.0, "p_tightened": 0.0, "lean_max_deg": 38.0, "lean_max_lo_deg": 37.2,
        "lean_max_hi_deg": 38.8, "lean_max_at_m": 30.0, "lean_on_line_deg": 38.0,
        "exit_lean_max_deg": 36.0, "exit_lean_on_line_deg": 36.0,
        "exit_tightest_after_apex_m": 12.0, "exit_tightens_after_apex_m": 8.0, "turn_in_early_m": 0.0,
        "turn_in_early_lo_m": -1.0, "turn_in_early_hi_m": 1.0,
    } | changed  # fmt: skip
    row["exit_radius_min_lo_m"] = row["exit_radius_min_m"] - 1.0
    row["exit_radius_min_hi_m"] = row["exit_radius_min_m"] + 1.0
    added = row["exit_lean_max_deg"] - row["exit_lean_on_line_deg"]
    told = (row["p_tightened"], row["exit_radius_ratio"], added)
    row["tightened"] = float(corner_table.tightened(*map(np.asarray, told)))
    return row


def marker_row(lap, name, marker, wide_m, sd_m):
    """A line of the table ``markers``, so far wide of the marker line."""
    outside = marker != "apex"
    line_gap = 4.0 if outside else 3.0
    gap = line_gap - wide_m if outside else line_gap + wide_m
    reach = 2.03 * sd_m
    # The marker line runs 2 m outside of the one seam.
    outside_seam_m = 2.0 + wide_m
    row = dict.fromkeys(marker_table.ALL_COLUMNS, np.nan)
    row |= {
        "lap": lap, "corner": name, "marker": marker, "kind": marker.replace("-", "_"),
        "gap_m": gap, "gap_lo_m": gap - reach, "gap_hi_m": gap + reach, "line_gap_m": line_gap,
        "lane": 2.0 if outside_seam_m > 0.0 else 1.0, "p_lane": ndtr(abs(outside_seam_m) / sd_m),
        "wide_of_line_m": wide_m, "wide_lo_m": wide_m - reach, "wide_hi_m": wide_m + reach,
        "wide_east": np.cos(CORNERS.index(name)), "wide_north": np.sin(CORNERS.index(name)),
    }  # fmt: skip
    return row


class Run:
    """A run that is on the line everywhere, to be changed corner by corner and lap by lap."""

    def __init__(self, session="1", laps=6, sd_m=0.25, scatter_m=0.2, seed=0):
        self.session, self.laps, self.sd_m = session, laps, sd_m
        self.rng = np.random.default_rng(seed)
        self.scatter_m = scatter_m
        self.corners, self.wide, self.inside = {}, {}, {}

    def corner(self, name, laps=None, **columns):
        """Change columns of the corner's lines in some laps (all when None)."""
        for lap in laps or range(1, self.laps + 1):
            self.corners.setdefault((lap, name), {}).update(columns)
        return self

    def moved(self, name, marker, wide_m, laps=None):
        """Ride so far wide of the line at a cone in some laps."""
        for lap in laps or range(1, self.laps + 1):
            self.wide[lap, name, marker] = wide_m
        return self

    def inside_seam(self, name, p_inside=1.0, laps=None):
        """Run inside the seam in some laps."""
        for lap in laps or range(1, self.laps + 1):
            self.inside[lap, name] = p_inside
        return self

    def result(self):
        laps = range(1, self.laps + 1)
        corners = [corner_row(n, c, self.corners.get((n, c), {})) for n in laps for c in CORNERS]
        markers = [
            marker_row(
                n, c, m,
                self.wide.get((n, c, m), 0.0) + self.scatter_m * self.rng.standard_normal(), self.sd_m,
            )
            for n in laps for c in CORNERS for m in ("turn-in", "apex", "exit")
        ]  # fmt: skip
        seams = [
            {"lap": n, "corner": c, "seam": "first seam",
             "p_inside": self.inside.get((n, c), 0.0),
             "inside_share": self.inside.get((n, c), 0.0), "call": "outside"}
            for n in laps for c in CORNERS
        ]  # fmt: skip
        kinds = pd.DataFrame({"lap": list(laps), "kind": "timed"})
        tables = {
            "laps": kinds,
            "corners": pd.DataFrame(corners),
            "markers": pd.DataFrame(markers),
            "seams": pd.DataFrame(seams),
        }
        tables["usual"] = usual_of(tables, self.sd_m)
        tables = {n: t.assign(rider="Bea", session=self.session) for n, t in tables.items()}
        return RunResult("Bea", self.session, tables, ())


def usual_of(tables, shared_m):
    """The table ``usual`` for those lines, the position offset shared by all laps."""
    corners, markers = tables["corners"], tables["markers"]
    corners = corners.assign(
        exit_curvature_1pm=1 / corners["exit_radius_min_m"], lean_deg=corners["lean_max_deg"]
    )
    rows = []
    for names, group, measures, sd in (
        (["corner"], corners, {"exit_curvature_1pm": 3e-4, "lean_deg": 0.2, "turn_in_early_m": 0.4}, 1),
        (["corner", "marker"], markers, {"gap_m": 1.0, "wide_of_line_m": 1.0}, shared_m),
    ):  # fmt: skip
        for key, lines in group.groupby(names, sort=False):
            for measure, own in measures.items():
                values = lines[measure].to_numpy()
                rows.append(
                    {"corner": key[0], "marker": (*key, "")[1], "measure": measure,
                     "laps": len(values), "usual": values.mean(), "shared_sd": own * sd,
                     "scatter_sd": values.std(ddof=1) if len(values) > 1 else np.nan}
                )  # fmt: skip
    return pd.DataFrame(rows)


@pytest.fixture
def run():
    return Run


@pytest.fixture
def tight():
    """Columns of an exit that tightens and takes more lean for it."""
    return {
        "exit_radius_ratio": 0.75, "exit_radius_min_m": 37.5, "p_tightened": 1.0,
        "exit_lean_max_deg": 42.0,
    }  # fmt: skip


@pytest.fixture
def early():
    """Columns of a turn-in that is surely early."""
    return {"turn_in_early_m": 7.0, "turn_in_early_lo_m": 5.5, "turn_in_early_hi_m": 8.5}


@pytest.fixture
def faults():
    """Picks the faults out of what was found."""
    return lambda found: [f for f in found if f.kind not in (Kind.WELL, Kind.FACT)]
