"""Whether something is a habit, a lapse or neither: the one place where that is decided."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lapkit.course.types import MarkerKind
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.place import Place
from lapkit.units import FloatArray

HOLDS_AT = 0.9
"""In a lap something holds when it is at least this probable."""

OF_ALL_RUNS = 0.5
"""A habit holds in more than this share of all laps."""

OF_ONE_RUN = 2.0 / 3.0
"""Or in more than this share of the laps of the last run: few laps are more easily chance. What held so in an
earlier run is mended where the last run keeps it out of more than this share of its laps."""

DRIFTS = ("drifts_wide", "drifts_tight", "drifts_over")
"""Codes of what grows from the first lap of a run to the last."""


@dataclass(frozen=True, eq=False)
class Judgement:
    """One thing that a rider does at one corner, before it is put into words.

    Attributes:
        code: what.
        evidence: whose, where, and all that is known about it.
        seen: laps in which it holds, shape ``(laps,)``.
        size: how much in each lap, in the code's own unit, shape ``(laps,)``.
        p: probability that it is so in the middling lap of those that it is told by, of a habit therefore at
            least :data:`HOLDS_AT`; of a lapse, in the lap it is about; of what is mended, in the middling lap of
            those that showed it.
        habit: held in more than half of all laps, or in most of the last run's.
        mended: a habit of an earlier run, and not of the last.
        added_deg: lean that it added in each lap, degrees, shape ``(laps,)``; NaN where not known.
        place: where to look, and the cone or seam that it is about.
        corners: of a drift that shows at most corners, at how many, and at how many it could; else zeros.
        end: of a drift, where the last run ends: metres wide of the line, metres of radius, or degrees beyond
            what the line asks for.
    """

    code: str
    evidence: Evidence
    seen: np.ndarray
    size: FloatArray
    p: float
    habit: bool
    mended: bool
    added_deg: FloatArray
    place: Place
    corners: tuple[int, int] = (0, 0)
    end: float = float("nan")

    @property
    def of_the_rider(self) -> bool:
        """Whether it shows at most corners, and so is the rider's or his tyres' more than any corner's."""
        return self.corners[0] > 0

    @property
    def at_cone(self) -> str:
        """Name of the cone that it is about; of a seam crossed late or never, the exit cone. Else empty."""
        names = [marker.name for marker in self.evidence.corner.markers]
        if self.code == "inside_seam":
            last = self.evidence.last_marker(MarkerKind.EXIT)
            return last.name if last else ""
        return self.place.name if self.place.name in names else ""

    @property
    def camber_deg(self) -> float:
        """Camber of the road at its place, degrees, positive banked to the inside."""
        return self.place.camber_deg(self.evidence.corner)

    @property
    def counted(self) -> np.ndarray:
        """Laps that it is told by, ``(laps,)``: of a habit those of the last run with enough; else all.

        All too of a habit that the last run shows in no more than half of its laps: told by that run it were none.
        """
        by_now = self.habit and not self.fading
        return self.evidence.now if by_now else np.ones(len(self.seen), dtype=bool)

    @property
    def seen_counted(self) -> np.ndarray:
        """Those of them in which it holds, ``(laps,)``."""
        return self.seen & self.counted

    @property
    def share(self) -> float:
        """Share of the laps that it is told by in which it holds."""
        return float(np.mean(self.seen[self.counted]))

    @property
    def in_last_run(self) -> bool:
        """Whether any lap of the last run with laps enough showed it."""
        return bool(self.seen[self.evidence.now].any())

    @property
    def fading(self) -> bool:
        """Whether it is a habit of all runs together that the last one with laps enough does not show for one."""
        return self.habit and not _often(self.seen[self.evidence.now], OF_ALL_RUNS)

    def typical(self, values: FloatArray) -> float:
        """Median of a measure over the laps that it is told by and holds in; NaN where not known."""
        known = values[self.seen_counted & np.isfinite(values)]
        return float(np.median(known)) if len(known) else float("nan")

    @property
    def shown(self) -> int:
        """Index of the lap that shows it: of a habit the middling one of the last run, of a lapse the worst.

        Of what grows over a run it is the last lap; of what is mended the last without it: that is how it
        is ridden now.
        """
        if self.code in DRIFTS:
            return len(self.seen) - 1
        if self.mended:
            return int(np.flatnonzero(~self.seen)[-1])
        laps = np.flatnonzero(self.seen_counted)
        order = laps[np.argsort(self.size[laps], kind="stable")]
        return int(order[len(order) // 2] if self.habit else order[-1])


def judge(
    code: str,
    evidence: Evidence,
    p_lap: FloatArray,
    size: FloatArray,
    *,
    place: Place,
    severe: np.ndarray | None = None,
    added_deg: FloatArray | None = None,
    clear: np.ndarray | None = None,
) -> Judgement | None:
    """Call it a habit, a lapse, or nothing worth saying (None).

    Args:
        code: what.
        evidence: the rider's laps at the corner.
        p_lap: probability in each lap, shape ``(laps,)``.
        size: how much in each lap, in the code's own unit, shape ``(laps,)``.
        place: where to look, and the cone or seam that it is about.
        severe: laps in which it is so large that once is worth saying, shape ``(laps,)``; none when None.
        added_deg: lean that it added in each lap, degrees, shape ``(laps,)``; not known when None.
        clear: laps by which it is decided whether it is a habit, shape ``(laps,)``; all when None. Once it is, or
            was, every lap that surely shows it counts.
    """
    seen = p_lap >= HOLDS_AT
    deciding = seen if clear is None else seen & clear
    if not deciding.any():
        return None
    habit, ever = _lasting(deciding, evidence)
    mended = ever and not _lasting(seen, evidence)[0]
    if not habit and not mended:
        if severe is None or not (deciding & severe).any():
            return None
        seen = deciding & severe
    if added_deg is None:
        added_deg = np.full(evidence.count, np.nan)
    found = Judgement(code, evidence, seen, size, 0.0, habit, mended, added_deg, place)
    of_these = p_lap[found.counted if habit else seen]
    return replace(found, p=float(np.median(of_these) if habit or mended else of_these.max()))


def of_all_laps(code: str, e: Evidence, size: float, p: float, place: Place) -> Judgement:
    """A habit of the laps taken together, so large over all of them."""
    return Judgement(
        code=code,
        evidence=e,
        seen=np.ones(e.count, dtype=bool),
        size=np.full(e.count, size),
        p=p,
        habit=True,
        mended=False,
        added_deg=np.full(e.count, np.nan),
        place=place,
    )


def _lasting(seen: np.ndarray, e: Evidence) -> tuple[bool, bool]:
    """Whether what laps show is a habit, and whether it ever was one."""
    in_runs = [_often(seen[e.run == run], OF_ONE_RUN) for run in np.unique(e.run)]
    of_all = _often(seen, OF_ALL_RUNS)
    left_off = _often(~seen[e.now], OF_ONE_RUN)
    habit = _often(seen[e.now], OF_ONE_RUN) or (of_all and not left_off)
    return habit, habit or of_all or any(in_runs)


def _often(seen: np.ndarray, share: float) -> bool:
    return len(seen) >= FEWEST_LAPS and bool(np.count_nonzero(seen) / len(seen) > share)
