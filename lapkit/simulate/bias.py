"""The receiver's slow bias: shared by every receiver nearby, wandering over minutes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from lapkit.arrays import FloatArray, read_only

_VERTICAL = 2.0  # heights are about this many times worse than positions (common practice)


@dataclass(frozen=True, eq=False)
class SlowBias:
    """A slow bias as it ran.

    ``offset_m`` is metres east, north and up, shape ``(n, 3)``, at absolute times, shape ``(n,)``.
    """

    time_s: FloatArray
    offset_m: FloatArray

    @classmethod
    def drawn(
        cls, spread_m: float, over_s: float, start_s: float, lasts_s: float, seed: int
    ) -> SlowBias:
        """A Gauss–Markov process of that spread and correlation time.

        Args:
            spread_m: standard deviation per horizontal axis.
            over_s: correlation time.
            start_s: when it starts, seconds since 1970-01-01T00:00:00Z.
            lasts_s: how long it runs.
            seed: the same seed gives the same bias.
        """
        rng = np.random.default_rng([seed, 1])
        time = np.floor(start_s) + np.arange(np.ceil(lasts_s) + 2.0)
        path = spread_m * gauss_markov(len(time), 1.0, over_s, 3, rng)
        return cls(read_only(time), read_only(path * [1.0, 1.0, _VERTICAL]))

    def at(self, time_s: FloatArray) -> FloatArray:
        """The bias at absolute times, shape ``(n, 3)``, metres."""
        return np.stack([np.interp(time_s, self.time_s, axis) for axis in self.offset_m.T], axis=1)


def gauss_markov(
    count: int, step_s: float, over_s: float, axes: int, rng: np.random.Generator
) -> FloatArray:
    """A stationary Gauss–Markov process of spread one at even steps, shape ``(count, axes)``."""
    keep = np.exp(-step_s / over_s)
    drive = rng.standard_normal((count, axes))
    drive[1:] *= np.sqrt(1.0 - keep**2)
    return lfilter([1.0], [1.0, -keep], drive, axis=0)
