"""How a share is told by the benchmarks that are run by hand."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from lapkit.compare.stats import wilson


def share(hits: Iterable[bool]) -> str:
    """A share in per cent, how many of how many, and its 95 % Wilson interval; a dash of nothing."""
    hits = list(hits)
    if not hits:
        return "–"
    low, high = wilson(sum(hits), len(hits))
    return f"{100 * np.mean(hits):.0f} % ({sum(hits)} of {len(hits)}; {100 * low:.0f}–{100 * high:.0f})"
