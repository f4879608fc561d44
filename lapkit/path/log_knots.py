"""The knots of a log's path: how closely they lie, and where its fixes lie between them."""

from __future__ import annotations

import numpy as np

from lapkit.path.displacements import usual_step_s
from lapkit.path.model import Observed
from lapkit.path.places import Places
from lapkit.path.spline import Knots

SPACING_S = 0.25
"""Knot spacing, seconds; half the time from fix to fix where fixes come slowly (:func:`knots_for`)."""

WANDER_EVERY = {True: 2, False: 1}
"""How many knots of the path there are to one of the wander, by whether most fixes have a velocity.

The wander's memory is some seconds, so half as many knots as the path's are enough, and save a tenth of a log's time. From
positions alone, the wander between its knots would then be taken for riding, and lean all round the lap would err by 3 to
5 % more.
"""


def knots_for(seen: Observed) -> Knots:
    """Knots that cover the fixes, with some room at both ends."""
    time_s, mostly = seen.time_s, bool(np.median(seen.velocity_weight) > 0.0)
    step = usual_step_s(seen)
    spacing = SPACING_S if step <= 0.3 else 0.5 * step
    start, every = float(time_s[0]) - 0.5 - spacing, WANDER_EVERY[mostly]
    intervals = int(np.ceil((time_s[-1] + 0.5 - start) / spacing))
    short = -Knots(start, spacing, intervals).coefficients % every
    return Knots(start, spacing, intervals + short, every)


def places_for(knots: Knots, seen: Observed) -> tuple[Places, Places]:
    """Where positions lie between the knots, and where velocities do."""
    positions = Places.of(knots, seen.time_s)
    return positions, Places.of(knots, seen.velocity_time_s) if seen.lags else positions
