"""``lapkit event`` killed at random moments; by hand: ``kill.py [COUNT [SEED]]``.

Two small events are written in turn into one folder, and each run is killed somewhere between its first
instruction and its end. The folder must hold the whole output of one of the two after every kill, byte
for byte, and what was left beside it must be gone after one run to the end. Prints how each kill ended.
"""

from __future__ import annotations

import gzip
import hashlib
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"
ROWS = 2600
"""Rows of a log kept: about two laps, so that a run takes seconds."""

Content = dict[str, str]


def small_event(folder: Path, rider: str) -> Path:
    """An event folder with two short logs, told from others by a rider's name."""
    folder.mkdir()
    (folder / "track.geojson").write_bytes((SAMPLE / "track.geojson").read_bytes())
    text = (SAMPLE / "logs" / "iska-1.csv").read_text()
    (folder / "a.csv").write_text("".join(text.splitlines(keepends=True)[:ROWS]))
    text = gzip.decompress((SAMPLE / "logs" / "odel-1.csv.gz").read_bytes()).decode()
    (folder / "b.csv").write_text("".join(text.splitlines(keepends=True)[:ROWS]))
    (folder / "riders.csv").write_text(f"rider,session,file\n{rider},1,a.csv\nOdel,1,b.csv\n")
    return folder


def command(event: Path, out: Path) -> list[str]:
    """The command line of one run."""
    return [sys.executable, "-m", "lapkit", "event", str(event), "--out", str(out)]


def content(folder: Path) -> Content:
    """Every file below a folder with its hash; empty where there is no folder."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def killed(event: Path, out: Path, after_s: float) -> bool:
    """Run and kill with all its workers; whether it was still running."""
    run = subprocess.Popen(
        command(event, out),
        start_new_session=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    time.sleep(after_s)
    running = run.poll() is None
    if running:
        os.killpg(run.pid, signal.SIGKILL)
    run.wait()
    return running


def run(count: int, seed: int) -> int:
    """Kill ``count`` runs; returns how many left something else than one whole output."""
    rng = random.Random(seed)
    outcomes: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as name:
        top = Path(name)
        events = [small_event(top / rider, rider) for rider in ("Ada", "Bea")]
        whole: list[Content] = []
        out = top / "results" / "out"
        for event in events:
            begun = time.perf_counter()
            subprocess.run(command(event, out), check=True, stdout=subprocess.DEVNULL)
            lasting_s = time.perf_counter() - begun
            whole.append(content(out))
        for _ in range(count):
            before = content(out)
            # The other event than the one that stands there: the same again would be left as it is.
            event = events[1 - whole.index(before)] if before in whole else events[0]
            running = killed(event, out, rng.uniform(0.0, 1.1 * lasting_s))
            after = content(out)
            state = "missing" if not after else "whole" if after in whole else "MIXED"
            change = "" if state != "whole" else ", earlier" if after == before else ", new"
            outcomes[f"{'killed' if running else 'ended'}: {state}{change}"] += 1
        subprocess.run(command(events[0], out), check=True, stdout=subprocess.DEVNULL)
        left = [p.name for p in out.parent.iterdir() if p != out]
        outcomes["left beside after a whole run"] = len(left)
        failed = len(left) + (content(out) != whole[0])
    for outcome, times in sorted(outcomes.items()):
        print(f"{times:8d} {outcome}")
    return failed + sum(n for o, n in outcomes.items() if "missing" in o or "MIXED" in o)


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    sys.exit(1 if run(wanted, int(sys.argv[2]) if len(sys.argv) > 2 else 0) else 0)
