"""How shares and probabilities are judged and told by the benchmarks that are run by hand."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from scipy.special import ndtri

from lapkit.arrays import FloatArray
from lapkit.path.summary import COVERAGE


class Brier(NamedTuple):
    """Brier's score and its parts: score = reliability − resolution + uncertainty."""

    score: float
    reliability: float
    resolution: float
    uncertainty: float

    def __str__(self) -> str:
        """The score, and how much of it is that probabilities differ from shares."""
        return f"{self.score:.3f} ({self.reliability:.3f} of it unreliable)"


def share(hits: Iterable[bool]) -> str:
    """A share in per cent, how many of how many, and its 95 % Wilson interval; a dash of nothing."""
    hits = list(hits)
    if not hits:
        return "–"
    low, high = wilson(sum(hits), len(hits))
    return f"{100 * np.mean(hits):.0f} % ({sum(hits)} of {len(hits)}; {100 * low:.0f}–{100 * high:.0f})"


def wilson(hits: int, count: int) -> tuple[float, float]:
    """Ends of the 95 % interval of a share of ``hits`` in ``count`` (Wilson 1927)."""
    z2 = float(np.square(ndtri(0.5 + 0.5 * COVERAGE)))
    share = hits / count
    middle = share + z2 / (2 * count)
    reach = np.sqrt(z2 * (share * (1.0 - share) / count + z2 / (4 * count**2)))
    scale = 1.0 + z2 / count
    return float((middle - reach) / scale), float((middle + reach) / scale)


def brier(p: FloatArray, happened: FloatArray) -> Brier:
    """Brier's score of probabilities ``(n,)`` against 0 or 1, with Murphy's decomposition (1973).

    Forecasts are grouped by their exact value.
    """
    values, group = np.unique(p, return_inverse=True)
    size = np.bincount(group)
    rate = np.bincount(group, weights=happened) / size
    base = float(np.mean(happened))
    return Brier(
        score=float(np.mean(np.square(p - happened))),
        reliability=float(size @ np.square(values - rate) / len(p)),
        resolution=float(size @ np.square(rate - base) / len(p)),
        uncertainty=base * (1.0 - base),
    )
