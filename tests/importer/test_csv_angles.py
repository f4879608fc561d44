"""Angles as text, and degrees and minutes as one number."""

import numpy as np
import pytest

from lapkit.importer.csv_angles import from_degrees_minutes, read_angles, read_sides


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("48.5", 48.5),
        ("-48.5", -48.5),
        ("+48,5", 48.5),
        ("48.5 S", -48.5),
        ("W48.5", -48.5),
        ("-48.5 S", 48.5),
        ("48 30", 48.5),
        ("48°30'", 48.5),
        ("48°30'36\"", 48.51),
        ("48d 30m 36s N", 48.51),
        ("48:30:36", 48.51),
        ("48º30′36″ w", -48.51),
        ("4830.6N", 48.51),
        ("01130.6 W", -11.51),
        ("030.6S", -0.51),
        ("4830.6", 4830.6),  # without a side it may be anything
    ],
)
def test_usual_forms_of_an_angle_are_read(text, degrees):
    assert read_angles([text])[0] == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize("text", ["", "north", "48.5X", "48.5 N E", "1e3", "4 8 3 0 6", "0" * 61])
def test_what_is_no_angle_is_nan(text):
    assert np.isnan(read_angles([text, "1"])).tolist() == [True, False]


def test_sides_are_signs():
    assert read_sides(["N", " south", "e", "W"]).tolist() == [1.0, -1.0, 1.0, -1.0]
    assert np.isnan(read_sides(["", "X"])).all()


def test_numbers_too_large_for_degrees_are_degrees_and_minutes():
    lat, lon = from_degrees_minutes(np.array([4830.6, np.nan]), np.array([-1130.6, 0.0]))
    assert lat[0] == pytest.approx(48.51)
    assert lon[0] == pytest.approx(-11.51)
    assert np.isnan(lat[1])


def test_one_of_the_two_too_large_is_enough():
    assert from_degrees_minutes(np.array([30.6]), np.array([1130.6])) is not None
    assert from_degrees_minutes(np.array([130.6]), np.array([30.6])) is not None


@pytest.mark.parametrize(
    ("lat", "lon"),
    [
        ([90.0], [360.0]),  # may be degrees
        ([4860.0], [1130.0]),  # 60 minutes there are none
        ([4830.0], [1160.0]),
        ([9100.0], [1130.0]),  # beyond the pole
        ([np.nan], [1130.0]),
        ([], []),
    ],
)
def test_other_numbers_are_not_split(lat, lon):
    assert from_degrees_minutes(np.array(lat), np.array(lon)) is None


def test_a_few_wild_numbers_do_not_keep_the_others_from_being_split():
    lat = np.array([4830.0, 4831.0, 99_999.0])
    assert from_degrees_minutes(lat, np.full(3, 1130.0)) is not None
