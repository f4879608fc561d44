"""A ridden log rewritten at random, as exporters and receivers do, through the whole chain; by hand.

``rewritten.py [COUNT [SEED]]``. The first five minutes of a bundled log are rewritten up to three times. Each
must be measured or refused within the error family, without a warning, an infinite number or a value that no
machine rides, on the track file and, every third, on the course found from it. Keeps the logs that failed.
"""

from __future__ import annotations

import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pandas as pd

import lapkit
from lapkit.errors import LapkitError

SECONDS_ALLOWED = 10.0
# Beyond these nothing is ridden on a road.
MOST_LEAN_DEG, LEAST_RADIUS_M, MOST_MPS = 70.0, 3.0, 90.0
TIME, LAT, LON, SPEED, HEADING = (
    "Time (UTC)", "Latitude (deg)", "Longitude (deg)", "Speed (km/h)", "Heading (deg)",
)  # fmt: skip


def _texts(values: pd.Series, digits: int = 7) -> pd.Series:
    return values.map(f"{{:.{digits}f}}".format)


def _numbers(log: pd.DataFrame, column: str) -> pd.Series:
    return pd.to_numeric(log[column], errors="coerce")


def lost(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Fixes missing in a row, or all but a few."""
    first = rng.integers(0, len(log))
    row = slice(first, first + int(rng.choice([1, 3, 20, 300, 1500])))
    return log.iloc[row] if rng.random() < 0.3 else log.drop(index=log.index[row])


def frozen(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """A position that stands while the clock goes on, for a while or all the time."""
    first = rng.integers(0, len(log))
    rows = (
        log.index if rng.random() < 0.3 else log.index[first : first + int(rng.choice([30, 300]))]
    )
    log.loc[rows, [LAT, LON]] = log.loc[rows[0], [LAT, LON]].to_numpy()
    return log


def jumped(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Positions that are elsewhere from some moment on."""
    after = log.index[rng.integers(0, len(log)) :]
    away = float(rng.choice([1e-5, 1e-4, 1e-3, 0.1]))
    log.loc[after, LAT] = _texts(_numbers(log, LAT)[after] + away)
    return log


def noisy(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Positions of a poor receiver."""
    noise = float(rng.choice([1e-6, 1e-5, 1e-4])) * rng.standard_normal(len(log))
    return log.assign(**{LAT: _texts(_numbers(log, LAT) + noise)})


def column_lost(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Height, speed or heading not exported."""
    spare = [c for c in log.columns if c not in (TIME, LAT, LON)]
    return log.drop(columns=rng.choice(spare)) if spare else log


def blanked(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Cells of a column left empty."""
    log.loc[rng.random(len(log)) < rng.choice([0.01, 0.3, 1.0]), rng.choice(log.columns)] = ""
    return log


def repeated(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Every row several times."""
    return log.loc[log.index.repeat(rng.integers(1, 4))].reset_index(drop=True)


def turned_over(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """The end before the beginning, as a full memory is read."""
    first = rng.integers(0, len(log))
    return pd.concat([log.iloc[first:], log.iloc[:first]])


def thinned(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Fewer fixes a second."""
    return log.iloc[:: int(rng.choice([2, 5, 10, 30]))]


def relabelled(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Speeds in another unit, with another sign or none; headings turned round, counted on or wild."""
    column = rng.choice([SPEED, HEADING])
    if column not in log:
        return log
    times = float(rng.choice([0.0, -1.0, 3.6, 0.5, 1e6])) if column == SPEED else 1.0
    more = float(rng.choice([180.0, 360.0, -720.0, 90.0, 1e9])) if column == HEADING else 0.0
    return log.assign(**{column: _texts(times * _numbers(log, column) + more, 3)})


def coarse(log: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Positions with few decimals."""
    digits = int(rng.choice([3, 4, 5]))
    return log.assign(**{c: _texts(_numbers(log, c), digits) for c in (LAT, LON)})


def backwards(log: pd.DataFrame, _: np.random.Generator) -> pd.DataFrame:
    """Positions the other way round under the same clock."""
    return log.assign(**{c: log[c].to_numpy()[::-1] for c in (LAT, LON)})


REWRITINGS = (
    lost, frozen, jumped, noisy, column_lost, blanked, repeated, turned_over, thinned, relabelled, coarse, backwards,
)  # fmt: skip


def odd(tables: Mapping[str, pd.DataFrame]) -> str:
    """What no machine rides, or no number should be, in what was measured; empty when nothing is."""
    for name, table in tables.items():
        numbers = table.select_dtypes("number").to_numpy(dtype=float, na_value=np.nan)
        if np.isinf(numbers).any():
            return f"infinite in {name}"
    judged = tables["corners"][tables["corners"]["quality"] != "poor"]
    wild = judged["lean_max_deg"].abs() > MOST_LEAN_DEG
    wild |= (judged["radius_min_m"] < LEAST_RADIUS_M) | (judged["slowest_mps"] > MOST_MPS)
    shown = ["lap", "corner", "radius_min_m", "lean_max_deg", "slowest_mps", "quality"]
    return f"odd: {judged.loc[wild, shown].to_dict('records')[:2]}" if wild.any() else ""


def on_the_track(path: Path, course: lapkit.Course) -> str:
    """What is odd in a log measured on its course."""
    run = lapkit.measure(path, course)
    return odd(run.result.tables | {"trace": run.trace})


def without_one(path: Path) -> str:
    """What is odd in a log measured on the course that is found from it."""
    return odd(lapkit.review([path]).tables)


def outcome(measure: Callable[[], str]) -> str:
    """``measured`` or ``refused``, else what was wrong."""
    try:
        return measure() or "measured"
    except LapkitError as error:
        return "refused" if error.what and error.where and error.remedy else f"not told: {error}"
    except Exception as error:
        traceback.print_exc(limit=-3)
        return f"a fault: {type(error).__name__}"


def rewritten(whole: pd.DataFrame, rng: np.random.Generator) -> tuple[pd.DataFrame, str]:
    """The log rewritten one to three times, and how."""
    log, names = whole.copy(), []
    for rewriting in rng.choice(np.array(REWRITINGS), rng.integers(1, 4)):
        if len(log):
            names.append(rewriting.__name__)
            log = rewriting(log.copy(), rng)
    return log, " + ".join(names)


def run(count: int, seed: int) -> int:
    """Rewrite so many times; returns how many broke a promise."""
    warnings.simplefilter("error", RuntimeWarning)
    event, rng = lapkit.sample_event(), np.random.default_rng(seed)
    course = lapkit.read_course(event / "track.geojson")
    whole = pd.read_csv(event / "logs" / "iska-1.csv", dtype=str)[:3400]
    counts: Counter[str] = Counter()
    slowest, failures = (0.0, ""), 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rewritten.csv"
        for number in range(count):
            log, how = rewritten(whole, rng)
            log.to_csv(path, index=False)
            begun = time.process_time()
            outcomes = {"on the track": outcome(lambda: on_the_track(path, course))}
            if number % 3 == 0:
                outcomes["without one"] = outcome(lambda: without_one(path))
            taken = time.process_time() - begun
            slowest = max(slowest, (taken, how))
            counts.update(f"{what} {where}" for where, what in outcomes.items())
            if taken > SECONDS_ALLOWED or not set(outcomes.values()) <= {"measured", "refused"}:
                failures += 1
                kept = Path(tempfile.gettempdir()) / f"lapkit-rewritten-{seed}-{number}.csv"
                kept.write_bytes(path.read_bytes())
                print(f"{how}: {outcomes} in {taken:.1f} s: {kept}")
    for what, times in sorted(counts.items()):
        print(f"{times:8d} {what}")
    print(f"slowest {slowest[0]:.2f} s of a processor ({slowest[1]})")
    return failures


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 600
    sys.exit(1 if run(wanted, int(sys.argv[2]) if len(sys.argv) > 2 else 0) else 0)
