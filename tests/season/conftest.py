import json
from hashlib import sha256

import pytest

CORNER = (
    "rider", "session", "lap", "corner", "turn", "radius_min_m", "radius_min_lo_m",
    "radius_min_hi_m", "exit_radius_min_m", "exit_radius_ratio", "p_tightened", "lean_max_deg",
    "lean_max_lo_deg", "lean_max_hi_deg", "lean_on_line_deg", "tightened", "left_road",
)  # fmt: skip


HABIT = ("rider", "corner", "in_short", "kind", "habit", "laps_seen", "laps_counted")


def whole(name, day, riders, corners=("Larch", "Anvil"), laps=6, told=(), step=0.2):
    """results.json of an event; ``riders``: name → (radius, lean, laps tightened, laps inside).

    ``told``: lines of findings, see ``HABIT``. ``step``: of radius and lean from each lap to the next.
    """
    lap_rows, corner_rows, seam_rows, log_rows = [], [], [], []
    for rider, (radius, lean, tightened, inside) in riders.items():
        log_rows.append([sha256(f"{name} {rider}".encode()).hexdigest()])
        for lap in range(laps + 1):
            kind, start = "timed" if lap else "out", f"{day}T09:{lap:02d}:00.000Z" if day else ""
            lap_rows.append([rider, "1", lap, kind, start])
            # Known scatter between timed laps, and an out-lap that would spoil every median.
            off = step * (lap - (laps + 1) / 2) if lap else 500.0
            for corner in corners:
                r, angle = radius + off, lean + off
                p = 1.0 if 0 < lap <= tightened else 0.0
                corner_rows.append(
                    [
                        *(rider, "1", lap, corner, "left", r, r - 1, r + 1, r, 1.0, p),
                        *(angle, angle - 1, angle + 1, 30.0, p, 0.0),
                    ]
                )
                call = "inside" if 0 < lap <= inside else "outside"
                for seam, said in (("first", call), ("second", "inside")):
                    share = 1.0 if said == "inside" else 0.0
                    seam_rows.append(
                        [rider, "1", lap, corner, seam, share, share, said, seam == "first"]
                    )
    seam = [
        "rider",
        "session",
        "lap",
        "corner",
        "seam",
        "inside_share",
        "p_inside",
        "call",
        "counted",
    ]
    tables = {
        "laps": (["rider", "session", "lap", "kind", "start_utc"], lap_rows),
        "corners": (list(CORNER), corner_rows),
        "seams": (seam, seam_rows),
        "findings": (list(HABIT), [list(row) for row in told]),
        "logs": (["sha256"], log_rows),
    }
    return {
        "title": name,
        "start_utc": f"{day}T09:00:00.000Z" if day else "",
        "day": day,
        "provenance": {"version": "0", "schema": 1, "inputs": {"track": f"{name} track"}},
        "tables": {n: {"columns": c, "rows": r} for n, (c, r) in tables.items()},
    }


@pytest.fixture
def event(tmp_path):
    """Writes an event's folder and gives its path."""

    def write(name, day, riders, **more):
        folder = tmp_path / name
        folder.mkdir(exist_ok=True)
        (folder / "results.json").write_text(json.dumps(whole(name, day, riders, **more)))
        return folder

    return write


@pytest.fixture
def season(tmp_path):
    return tmp_path / "season.sqlite"
