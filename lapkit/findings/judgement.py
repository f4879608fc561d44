"""Whether something is a habit, a lapse or neither: the one place where that is decided.

What the words mean, here and wherever findings speak of laps:

- A lap *shows* something that holds in it with a probability of :data:`HOLDS_AT` or more.
- *Now* is the last run with :data:`~lapkit.findings.evidence.FEWEST_LAPS` or more; how he rides now is what matters.
- A *habit* is shown by more than two thirds of the laps of now, or by more than half of all laps unless now left it off.
- A habit is *fading* where now shows it in half of its laps or fewer.
- What is *mended* was a habit and is none any more.
- A *lapse* is shown by too few laps for a habit, one of which at least is so far off that once is worth saying.
- A habit is *told by* the laps of now; a fading habit and all that is no habit are told by all laps.
- The *middling* lap is the median of those laps that it is told by and that show it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lapkit.course.types import MarkerKind
from lapkit.findings.codes import Code
from lapkit.findings.evidence import FEWEST_LAPS, Evidence
from lapkit.findings.place import Place
from lapkit.units import FloatArray

HOLDS_AT = 0.9
"""A lap shows what is at least this probable in it."""

OF_ALL_RUNS = 0.5
"""A habit is shown by more than this share of all laps."""

OF_ONE_RUN = 2.0 / 3.0
"""Or by more than this share of the laps of now: of so few laps half are easily chance. A habit of an earlier run is left
off where more than this share of the laps of now do not show it."""


@dataclass(frozen=True)
class Drift:
    """What is known of a drift beyond what is known of anything else.

    Attributes:
        end: where the last run ends: metres wide of the line, metres of radius, or degrees beyond what the line asks for.
        shown_at, looked_at: at how many of the rider's corners it shows, and at how many it was looked for.
        everywhere: whether it shows at most of them, and so is the rider's or his tyres' more than any corner's.
    """

    end: float
    shown_at: int
    looked_at: int
    everywhere: bool


@dataclass(frozen=True, eq=False)
class Judgement:
    """One thing that a rider does at one corner, before it is put into words.

    Attributes:
        code: what.
        evidence: whose, where, and all that is known about it.
        seen: laps that show it, ``(laps,)``.
        size: how much in each lap, in the code's own unit, ``(laps,)``.
        p: probability that it is so: of a habit in the middling lap, and so at least :data:`HOLDS_AT`; of what is
            mended in the median of all laps that showed it; of a lapse in its surest lap.
        habit: whether it is one.
        mended: whether it was one, and is none any more.
        added_deg: lean that it added in each lap, degrees, ``(laps,)``; NaN where not known.
        place: where to look, and the cone or seam that it is about.
        drift: more, of what changes with every lap of a run; else None.
    """

    code: Code
    evidence: Evidence
    seen: np.ndarray
    size: FloatArray
    p: float
    habit: bool
    mended: bool
    added_deg: FloatArray
    place: Place
    drift: Drift | None = None

    @property
    def of_the_rider(self) -> bool:
        """Whether it is a drift that shows at most corners."""
        return self.drift is not None and self.drift.everywhere

    @property
    def at_cone(self) -> str:
        """Name of the cone that it is about; of a seam crossed late or never, the exit cone. Else empty."""
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
    def told_by(self) -> np.ndarray:
        """Laps that it is told by, whether they show it or not, ``(laps,)``."""
        by_now = self.habit and not self.fading
        return self.evidence.now if by_now else np.ones(len(self.seen), dtype=bool)

    @property
    def shown_by(self) -> np.ndarray:
        """Those of :attr:`told_by` that show it, ``(laps,)``."""
        return self.seen & self.told_by

    @property
    def share(self) -> float:
        """Share of the laps that it is told by that show it."""
        return float(np.mean(self.seen[self.told_by]))

    @property
    def in_last_run(self) -> bool:
        """Whether any lap of now shows it."""
        return bool(self.seen[self.evidence.now].any())

    @property
    def fading(self) -> bool:
        """Whether it is a habit of all runs together that now shows in half of its laps or fewer."""
        return self.habit and not _often(self.seen[self.evidence.now], OF_ALL_RUNS)

    def typical(self, values: FloatArray) -> float:
        """A measure ``(laps,)`` in the middling lap, in its own unit; NaN where not known."""
        known = values[self.shown_by & np.isfinite(values)]
        return float(np.median(known)) if len(known) else float("nan")

    @property
    def example(self) -> int:
        """Index of the lap to show: of a habit the middling one by its size, of a lapse the worst.

        Of a drift it is the last lap; of what is mended the last lap without it, because that is how it is ridden now.
        """
        if self.code.means.drift:
            return len(self.seen) - 1
        if self.mended:
            return int(np.flatnonzero(~self.seen)[-1])
        laps = np.flatnonzero(self.shown_by)
        order = laps[np.argsort(self.size[laps], kind="stable")]
        return int(order[len(order) // 2] if self.habit else order[-1])


def judge(
    code: Code,
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
        clear: laps that decide whether it is a habit, shape ``(laps,)``; all when None. Once it is one, or was, every lap
            that shows it counts.
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
    of_these = p_lap[found.told_by if habit else seen]
    return replace(found, p=float(np.median(of_these) if habit or mended else of_these.max()))


def of_all_laps(code: Code, e: Evidence, size: float, p: float, place: Place) -> Judgement:
    """A habit of all laps taken together, of one size and as sure in each."""
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
    """Whether what laps ``(laps,)`` show is a habit, and whether it is or ever was one."""
    in_runs = [_often(seen[e.run == run], OF_ONE_RUN) for run in np.unique(e.run)]
    of_all = _often(seen, OF_ALL_RUNS)
    left_off = _often(~seen[e.now], OF_ONE_RUN)
    habit = _often(seen[e.now], OF_ONE_RUN) or (of_all and not left_off)
    return habit, habit or of_all or any(in_runs)


def _often(seen: np.ndarray, share: float) -> bool:
    return len(seen) >= FEWEST_LAPS and bool(np.count_nonzero(seen) / len(seen) > share)
