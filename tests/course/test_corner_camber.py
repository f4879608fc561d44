"""Camber at the cones of a corner: given there, given for the corner, or not at all."""

import pytest

from lapkit.course import place, read_track


@pytest.mark.parametrize(
    ("of_corner", "of_cones", "expected"),
    [
        (None, {"exit": -3.0}, [0.0, 0.0, -3.0]),
        (None, {"turn-in": 1.0, "exit": -3.0}, [1.0, None, -3.0]),
        (2.0, {"exit": -3.0}, [2.0, 2.0, -3.0]),
        (None, {}, [0.0, 0.0, 0.0]),
    ],
)
def test_a_cone_without_camber_has_the_corners_or_lies_between_those_that_have_one(
    write, features, of_corner, of_cones, expected
):
    for each in features:
        said = each["properties"]
        said.pop("camber_deg", None)
        if said["role"] == "corner" and of_corner is not None:
            said["camber_deg"] = of_corner
        if said["role"] == "marker" and said["name"] in of_cones:
            said["camber_deg"] = of_cones[said["name"]]
    corner = place(read_track(write(features))).corners[0]
    camber = [marker.camber_deg for marker in corner.markers]
    if expected[1] is None:
        at = [marker.station_m for marker in corner.markers]
        expected[1] = 1.0 - 4.0 * (at[1] - at[0]) / (at[2] - at[0])
    assert camber == pytest.approx(expected)
