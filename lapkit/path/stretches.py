"""Stretches of a log over which something holds."""

from __future__ import annotations

import numpy as np


def stretches(where: np.ndarray) -> list[slice]:
    """Every stretch of successive fixes at which a condition, booleans ``(n,)``, holds; in order."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], where.astype(np.int8), [0]])))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
