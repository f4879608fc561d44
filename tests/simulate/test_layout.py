from __future__ import annotations

import numpy as np
import pytest

from lapkit.errors import TrackError
from lapkit.simulate.layout import Bend, CornerPlan, Straight, centre_of, closed_loop

OVAL = (
    CornerPlan("East", (Bend(40.0, 180.0, 0.5),)),
    Straight(80.0, fitted=True),
    CornerPlan("West", (Bend(40.0, 180.0, 0.5),)),
    Straight(80.0),
)


def test_an_oval_has_the_length_of_two_straights_and_a_circle():
    sections = (OVAL[0], Straight(80.0), OVAL[2], Straight(80.0))
    centre = centre_of(sections)
    # derived: 2π · 40 + 2 · 80, and half an easing more at each end of a bend
    assert centre.length_m == pytest.approx(2.0 * np.pi * 40.0 + 160.0 + 1.0)
    assert np.hypot(centre.x_m[-1] - centre.x_m[0], centre.y_m[-1] - centre.y_m[0]) < 1e-6


def test_a_clothoid_ends_where_it_should():
    # Bend of two easings of 30 m to a radius of 50 m: the first ends at X 29.73112, Y 2.98077.
    # derived from Fresnel integrals (A² = R L)
    turned = np.degrees(30.0 / 50.0)
    centre = centre_of((CornerPlan("One", (Bend(50.0, turned, 30.0),)),))
    assert np.interp(30.0, centre.station_m, centre.x_m) == pytest.approx(29.73112, abs=1e-4)
    assert np.interp(30.0, centre.station_m, centre.y_m) == pytest.approx(2.98077, abs=1e-4)


def test_fitted_straights_close_the_loop():
    square = tuple(
        part
        for i in range(4)
        for part in (
            Straight(100.0, fitted=i in (0, 1)) if i < 2 else Straight(130.0 + 20.0 * i),
            CornerPlan(f"C{i}", (Bend(30.0, 90.0),)),
        )
    )
    closed = closed_loop(square)
    assert [s.length_m for s in closed if isinstance(s, Straight)] == pytest.approx(
        [170.0, 190.0, 170.0, 190.0]
    )


@pytest.mark.parametrize(
    "sections",
    [
        (CornerPlan("Half", (Bend(40.0, 180.0),)), Straight(1.0, True), Straight(1.0, True)),
        OVAL,
    ],
    ids=["half a turn", "one fitted straight"],
)
def test_what_cannot_close_is_refused(sections):
    with pytest.raises(TrackError, match="360"):
        closed_loop(sections)


def test_parallel_straights_cannot_close_a_loop():
    both = (OVAL[0], OVAL[1], OVAL[2], Straight(80.0, fitted=True))
    with pytest.raises(TrackError, match="parallel"):
        closed_loop(both)
