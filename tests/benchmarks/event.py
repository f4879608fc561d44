"""How long a whole event takes, compared with gpxpy parsing the same logs and doing nothing else; run by hand.

    python tests/benchmarks/event.py [--riders 40] [--runs 6] [--minutes 20] [--rate 10] [--workers 2]

It invents an event, then prints for a quarter, a half and the whole of its riders: the seconds that gpxpy's
standard-library parser takes with as many processes, that `event --no-pages` and `event` take, and that a second
run takes with nothing changed; the ratios to gpxpy; and the peak memory of the program and of its largest worker.
A second line for each size has the processor seconds of all processes, on which a busy machine has little
influence. At the end it prints how times grow from a quarter to the whole.
"""

import argparse
import compileall
import csv
import os
import re
import resource
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ProcessPoolExecutor
from importlib.util import find_spec
from itertools import product
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple

LAP_S, AROUND_S = 108.0, 130.0
# Logs that are really ridden; the others are these on other days, with bytes of their own.
RIDDEN = 3


def invent(folder: Path, riders: int, runs: int, minutes: float, rate: float) -> None:
    """An event folder with a log for each rider and run."""
    from lapkit.simulate.courses import course_named
    from lapkit.simulate.event import write_event
    from lapkit.simulate.invented_runs import Outline, invented_runs
    from lapkit.simulate.receiver import Receiver

    laps = max(1, round((60.0 * minutes - AROUND_S) / LAP_S))
    course = course_named("sample")
    outline = Outline(min(RIDDEN, riders), sessions=1, laps=laps, seed=7)
    ridden = invented_runs(outline, Receiver(rate_hz=rate), ".gpx")
    write_event(course, ridden, folder / "ridden")
    texts = [p.read_text() for p in sorted((folder / "ridden" / "logs").iterdir())]
    (folder / "track.geojson").write_text((folder / "ridden" / "track.geojson").read_text())
    (folder / "logs").mkdir()
    rows = [("rider", "session", "file")]
    for rider, run in product(range(1, riders + 1), range(1, runs + 1)):
        text = re.sub(r"2031-06-14T", f"2031-06-{13 + run:02d}T", texts[(rider + run) % len(texts)])
        name = f"logs/rider-{rider}-{run}.gpx"
        # Bytes of its own in its name: a comment would send all points near it through the slow parser.
        (folder / name).write_text(text.replace('creator="', f'creator="{rider} {run} ', 1))
        rows.append((f"Rider {rider}", str(run), name))
    with (folder / "riders.csv").open("w", newline="") as file:
        csv.writer(file).writerows(rows)


def part_of(folder: Path, riders: int, out: Path) -> Path:
    """The same event with its first riders only."""
    (out / "logs").mkdir(parents=True)
    (out / "track.geojson").hardlink_to(folder / "track.geojson")
    with (folder / "riders.csv").open() as file:
        head, *rows = csv.reader(file)
    names = {f"Rider {n}" for n in range(1, riders + 1)}
    wanted = [row for row in rows if row[0] in names]
    for _, _, log in wanted:
        (out / log).hardlink_to(folder / log)
    with (out / "riders.csv").open("w", newline="") as file:
        csv.writer(file).writerows([head, *wanted])
    return out


def parse(path: str) -> int:
    """Points that gpxpy reads from a log with the standard library's parser."""
    sys.modules.setdefault("lxml", None)
    import gpxpy

    with Path(path).open() as file:
        return sum(1 for _ in gpxpy.parse(file).walk())


def cpu_s() -> float:
    """Processor time of every process that has ended, seconds."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def gpxpy_s(folder: Path, workers: int) -> tuple[float, float, int]:
    """Seconds to parse every log of the event, by the clock and of the processors, and points read."""
    with (folder / "riders.csv").open() as file:
        paths = [str(folder / row["file"]) for row in csv.DictReader(file)]
    begun, used = time.perf_counter(), cpu_s()
    with ProcessPoolExecutor(workers, get_context("spawn")) as pool:
        points = sum(pool.map(parse, paths))
    return time.perf_counter() - begun, cpu_s() - used, points


def lapkit_s(*arguments: object) -> tuple[float, float, float, float]:
    """Seconds a command takes, by the clock and of the processors; peak MB of itself and its largest worker."""
    begun, used = time.perf_counter(), cpu_s()
    command = [sys.executable, "-m", "lapkit", *map(str, arguments)]
    run = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    peaks: dict[bool, float] = {True: 0.0, False: 0.0}
    watcher = threading.Thread(target=_watch, args=(run, peaks))
    watcher.start()
    if run.wait():
        raise SystemExit(f"{' '.join(command)} ended with {run.returncode}")
    taken = time.perf_counter() - begun
    watcher.join()
    return taken, cpu_s() - used, peaks[True], peaks[False]


def _watch(run: subprocess.Popen, peaks: dict[bool, float]) -> None:
    """Keep the largest peak of the process itself (True) and of its children (False) while it runs."""
    while run.poll() is None:
        for status in Path("/proc").glob("[0-9]*/status"):
            try:
                fields = dict(line.split(":", 1) for line in status.read_text().splitlines())
                own = int(fields["Pid"]) == run.pid
                if own or int(fields["PPid"]) == run.pid:
                    peaks[own] = max(peaks[own], int(fields["VmHWM"].split()[0]) / 1e3)
            except (OSError, KeyError, ValueError):
                continue
        time.sleep(0.2)


class Seconds(NamedTuple):
    """What each job takes on an event, by the clock or of the processors."""

    gpxpy: float
    tables: float
    pages: float
    again: float

    def line(self) -> str:
        """Cells of the table, with the ratios to gpxpy."""
        return (
            f"{self.gpxpy:10.1f}{self.tables:10.1f}{self.tables / self.gpxpy:10.2f}"
            f"{self.pages:10.1f}{self.pages / self.gpxpy:10.2f}{self.again:10.2f}"
        )


def timed(folder: Path, work: Path, workers: int) -> tuple[str, Seconds]:
    """Two lines of the table for an event, and its processor seconds; results go below ``work``."""
    parsed, parsed_cpu, points = gpxpy_s(folder, workers)
    more = ("--workers", workers)
    bare, out = work / "bare", work / "out"
    tables, tables_cpu, *_ = lapkit_s("event", folder, "--out", bare, *more, "--no-pages")
    pages, pages_cpu, main_mb, worker_mb = lapkit_s("event", folder, "--out", out, *more)
    again, again_cpu, *_ = lapkit_s("event", folder, "--out", out, *more)
    clock = Seconds(parsed, tables, pages, again)
    cpu = Seconds(parsed_cpu, tables_cpu, pages_cpu, again_cpu)
    logs = len(list((folder / "logs").iterdir()))
    lines = (
        f"{logs:10d}{points:10d}{clock.line()}{worker_mb:10.0f}{main_mb:10.0f}\n"
        f"{'of processors':>20}{cpu.line()}"
    )
    return lines, cpu


def as_installed() -> None:
    """Compile the program, as what installs it does once: from a checkout every process may do it again."""
    found = find_spec("lapkit")
    for folder in found.submodule_search_locations if found else ():
        compileall.compile_dir(folder, quiet=1)


def main() -> None:
    """Print two lines for each size, and the growth."""
    ask = argparse.ArgumentParser()
    for name, usual in (("riders", 40), ("runs", 6), ("workers", 2)):
        ask.add_argument(f"--{name}", type=int, default=usual)
    ask.add_argument("--minutes", type=float, default=20.0)
    ask.add_argument("--rate", type=float, default=10.0)
    given = ask.parse_args()
    os.environ.update(
        OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1"
    )  # of the processes started here
    as_installed()
    head = ("logs", "points", "gpxpy s", "tables s", "×", "pages s", "×", "again s", "worker MB", "main MB")  # fmt: skip
    print("".join(f"{cell:>10}" for cell in head))
    sizes = []
    with tempfile.TemporaryDirectory() as name:
        whole = Path(name) / "whole"
        invent(whole, given.riders, given.runs, given.minutes, given.rate)
        for share in (4, 2, 1):
            work = Path(name) / f"part{share}"
            folder = part_of(whole, max(1, given.riders // share), work / "event")
            lines, cpu = timed(folder, work, given.workers)
            print(lines, flush=True)
            sizes.append(cpu)
    quarter, all_of_it = sizes[0], sizes[-1]
    print(
        f"whole over quarter, of processors: tables {all_of_it.tables / quarter.tables:.2f}, "
        f"with pages {all_of_it.pages / quarter.pages:.2f}"
    )


if __name__ == "__main__":
    main()
