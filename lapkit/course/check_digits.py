"""Checks of how many digits a track file is written with.

Measured on the sample's marker line with a vertex every 1.5 to 10 m, its tightest radii err by 1.4 % rms with seven
decimals of a degree, by 4 to 8 % with six, and by 14 to 30 % with five, nearly always to the tight side. With five
decimals seams and edges lie 0.2 m rms away from their place, and cones 0.4 m, at most 0.6 m.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.coordinates import METRES_PER_DEGREE, step_deg
from lapkit.counting import counted, listed
from lapkit.course.problem import Problem, Survey, warning
from lapkit.course.types import EDGE_ROLES, Track

COARSE_LINE_M = 0.02
"""A marker line written in larger steps has wrong radii, metres: between the steps of seven decimals and of six,
0.011 and 0.11 m."""

COARSE_M = 0.5
"""Seams, edges and cones written in larger steps are off their place, metres: between the steps of six decimals and
of five."""

COARSE = "coarse digits"
"""Code of the problem that a file is written with too few digits."""

_REMEDY = "Export it with seven decimals of a degree or more."


def coarse_digits(survey: Survey) -> Iterator[Problem]:
    """Everything in the file that is written with too few digits for riders to be compared with it."""
    source, line = survey.track.source, survey.track.marker_line
    if line is not None and (step := _step_m(line.lon_lat)) > COARSE_LINE_M:
        wrong = "a tenth to a third" if step > COARSE_M else "some 5 %"
        yield warning(
            COARSE,
            f"{source}, marker_line",
            f"it is written in steps of {step:.2g} m, so that its tightest radii come out {wrong} wrong, mostly "
            "too tight",
            _REMEDY,
        )
    steps = {name: _step_m(lon_lat) for name, lon_lat in _measured_from(survey.track)}
    coarse = [name for name, step in steps.items() if step > COARSE_M]
    if coarse:
        yield warning(
            COARSE,
            f"{source}, {listed(coarse)}",
            f"written in steps of {max(steps[name] for name in coarse):.2g} m, so that lanes and gaps to cones come "
            "out up to 0.5 m wrong",
            _REMEDY,
        )


def _measured_from(track: Track) -> Iterator[tuple[str, FloatArray]]:
    """Name and positions (longitude, latitude), shape ``(n, 2)``, of what lanes and gaps are measured from."""
    yield from ((role, line.lon_lat) for role, line in track.lines(*EDGE_ROLES).items())
    for seam in track.seams:
        yield f"seam {seam.name!r}", seam.lon_lat
    if track.markers:
        # A single cone does not show its step.
        cones = np.array([[marker.lon, marker.lat] for marker in track.markers])
        yield counted(len(cones), "cone"), cones


def _step_m(lon_lat: FloatArray) -> float:
    """The step to which positions were rounded, metres of latitude; NaN when it is too fine to be seen."""
    return step_deg(lon_lat[:, 1], lon_lat[:, 0]) * METRES_PER_DEGREE
