"""Whether something is a habit, a lapse or neither: the one place where that is decided.

What the words mean, here and wherever findings speak of laps:

- A lap *shows* something that is so in it with a probability of :data:`~lapkit.path.summary.CALL_AT` or more.
- The *last run* is the last one with :data:`~lapkit.findings.evidence.FEWEST_LAPS` or more laps: how he rides now matters.
- A *habit* is shown by more than two thirds of the laps of the last run, or by more than half of all laps, unless more
  than two thirds of the laps of the last run do not show it.
- A habit is *fading* if half of the laps of the last run or fewer show it.
- What is *mended* was a habit once and is no longer one.
- A *lapse* is shown by too few laps for a habit, but at least one of them is so far off that even one lap is reported.
- A habit is *reported over* the laps of the last run. A fading habit, and what is no habit, is reported over all laps.
- The *median* lap is the median of the laps that it is reported over and that show it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.place import Place
from lapkit.path.summary import CALL_AT

OF_ALL_RUNS = 0.5
"""A habit is shown by more than this share of all laps."""

OF_ONE_RUN = 2.0 / 3.0
"""It is also a habit if more than this share of the laps of the last run show it; in so few laps a smaller share may be
chance. And a habit of all laps counts as given up if more than this share of the laps of the last run do not show it."""


@dataclass(frozen=True)
class Drift:
    """What a drift has beyond what every judgement has.

    Attributes:
        end: where the last run ends: metres wide of the marker line, metres of radius, or degrees beyond the lean that the
            line asks for.
        shown_at, looked_at: number of the rider's corners at which it shows, and at which it was looked for.
        everywhere: whether it shows at most of them, and so belongs to the rider or his tyres rather than to any corner.
    """

    end: float
    shown_at: int
    looked_at: int
    everywhere: bool


@dataclass(frozen=True, eq=False)
class Observed:
    """What was observed of one thing in each lap; arrays ``(laps,)``.

    Attributes:
        p: probability that it is so.
        size: how large it is, in the unit of its code.
        severe: laps in which it is so large that even one such lap is reported; none when None.
        clear: laps that decide whether it is a habit; all when None. Once it is a habit, or was one, every lap that shows
            it counts.
        added_deg: lean that it added, degrees; not known when None.
    """

    p: FloatArray
    size: FloatArray
    severe: np.ndarray | None = None
    clear: np.ndarray | None = None
    added_deg: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class Judgement:
    """One thing that a rider does at one corner, before it is put into words.

    Attributes:
        code: what it is.
        evidence: the rider's laps at the corner, and all that is known about them.
        place: where to look, and the cone or seam that it is about.
        seen: laps that show it, ``(laps,)``.
        size: how large it is in each lap, in the unit of its code, ``(laps,)``.
        added_deg: lean that it added in each lap, degrees, ``(laps,)``; NaN where not known.
        p: probability that it is so. For a habit that is the median over the laps that it is reported over, at least
            :data:`~lapkit.path.summary.CALL_AT`; for what is mended the median over all laps that showed it; for a lapse its surest lap.
        habit: whether it is one.
        mended: whether it was a habit and is no longer one.
        drift: what a drift has in addition; None for anything else.
    """

    code: Code
    evidence: Evidence
    place: Place
    seen: np.ndarray
    size: FloatArray
    added_deg: FloatArray
    p: float
    habit: bool
    mended: bool
    drift: Drift | None = None

    @property
    def of_the_rider(self) -> bool:
        """Whether it is a drift that shows at most corners."""
        return self.drift is not None and self.drift.everywhere

    @property
    def at_cone(self) -> str:
        """Name of the cone that it is about, which for running inside a seam is the exit cone; empty if there is none."""
        names = [marker.name for marker in self.evidence.corner.markers]
        if self.code is Code.INSIDE_SEAM:
            last = self.evidence.last_marker(MarkerKind.EXIT)
            return last.name if last else ""
        return self.place.name if self.place.name in names else ""

    @property
    def camber_deg(self) -> float:
        """Camber of the road at its place, degrees, positive banked to the inside."""
        return self.place.camber_deg(self.evidence.corner)

    @property
    def reported_over(self) -> np.ndarray:
        """Laps that it is reported over, whether they show it or not, ``(laps,)``."""
        if self.habit and not self.fading:
            return self.evidence.last_run
        return np.ones(len(self.seen), dtype=bool)

    @property
    def shown_by(self) -> np.ndarray:
        """Those of :attr:`reported_over` that show it, ``(laps,)``."""
        return self.seen & self.reported_over

    @property
    def share(self) -> float:
        """Share of the laps of :attr:`reported_over` that show it."""
        return float(np.mean(self.seen[self.reported_over]))

    @property
    def in_last_run(self) -> bool:
        """Whether any lap of the last run shows it."""
        return bool(self.seen[self.evidence.last_run].any())

    @property
    def fading(self) -> bool:
        """Whether it is a habit that half of the laps of the last run or fewer show."""
        return self.habit and not _often(self.seen[self.evidence.last_run], OF_ALL_RUNS)

    def typical(self, values: FloatArray) -> float:
        """A measure ``(laps,)`` in the median lap, in its own unit; NaN where not known."""
        known = values[self.shown_by & np.isfinite(values)]
        return float(np.median(known)) if len(known) else float("nan")

    @property
    def example(self) -> int:
        """Index of the lap to draw: for a habit the median lap by size, for a lapse the worst.

        For a drift it is the last lap. For what is mended it is the last lap without it, which is how he rides now.
        """
        if self.code.means.drift:
            return len(self.seen) - 1
        if self.mended:
            return int(np.flatnonzero(~self.seen)[-1])
        laps = np.flatnonzero(self.shown_by)
        order = laps[np.argsort(self.size[laps], kind="stable")]
        return int(order[len(order) // 2] if self.habit else order[-1])


def judge(code: Code, evidence: Evidence, place: Place, observed: Observed) -> Judgement | None:
    """Call what was observed a habit, a lapse, or nothing worth saying (None)."""
    seen = observed.p >= CALL_AT
    deciding = seen if observed.clear is None else seen & observed.clear
    if not deciding.any():
        return None
    habit, ever = _lasting(deciding, evidence)
    mended = ever and not _lasting(seen, evidence)[0]
    if not habit and not mended:
        if observed.severe is None or not (deciding & observed.severe).any():
            return None
        seen = deciding & observed.severe
    added_deg = observed.added_deg
    found = Judgement(
        code=code,
        evidence=evidence,
        place=place,
        seen=seen,
        size=observed.size,
        added_deg=np.full(evidence.count, np.nan) if added_deg is None else added_deg,
        p=0.0,
        habit=habit,
        mended=mended,
    )
    of_these = observed.p[found.reported_over if habit else seen]
    p = np.median(of_these) if habit or mended else np.max(of_these)
    return replace(found, p=float(p))


def of_all_laps(code: Code, evidence: Evidence, place: Place, size: float, p: float) -> Judgement:
    """A habit that shows only in all laps taken together, and so has one size and one probability for all."""
    return Judgement(
        code=code,
        evidence=evidence,
        place=place,
        seen=np.ones(evidence.count, dtype=bool),
        size=np.full(evidence.count, size),
        added_deg=np.full(evidence.count, np.nan),
        p=p,
        habit=True,
        mended=False,
    )


def _lasting(seen: np.ndarray, evidence: Evidence) -> tuple[bool, bool]:
    """Whether what these laps ``(laps,)`` show is a habit now, and whether it is or ever was one."""
    in_runs = [_often(seen[evidence.run == run], OF_ONE_RUN) for run in np.unique(evidence.run)]
    of_all = _often(seen, OF_ALL_RUNS)
    given_up = _often(~seen[evidence.last_run], OF_ONE_RUN)
    habit = _often(seen[evidence.last_run], OF_ONE_RUN) or (of_all and not given_up)
    return habit, habit or of_all or any(in_runs)


def _often(seen: np.ndarray, share: float) -> bool:
    """Whether enough laps were ridden, and more than this share of them show something."""
    return len(seen) >= FEWEST_LAPS and bool(np.count_nonzero(seen) / len(seen) > share)
