"""Values smoothed as strongly as their own noise demands."""

import numpy as np
import pytest

from lapkit.course.smoothing import mean_of_known, smooth_even


@pytest.mark.parametrize("wave_m", [30.0, 50.0, 80.0])
def test_half_of_a_wave_is_kept_where_course_and_noise_are_equally_strong(wave_m):
    """A course whose third derivative is white, and white noise, drawn in frequencies."""
    rng, count = np.random.default_rng(4), 4096
    omega = 2.0 * np.pi * np.fft.rfftfreq(count, 2.0)
    course = np.zeros(len(omega), dtype=complex)
    course[1:] = (omega[1:] * wave_m / (2.0 * np.pi)) ** -3.0
    white = [rng.normal(size=len(omega)) + 1j * rng.normal(size=len(omega)) for _ in range(2)]
    values = np.fft.irfft(course * white[0] + white[1], count)
    found = smooth_even(values, 2.0, True, 10.0, 250.0)
    assert found.wavelength_m == pytest.approx(wave_m, rel=0.06)


def test_smoothing_takes_noise_and_leaves_exact_values():
    at = np.arange(0.0, 1000.0, 2.0)
    exact = 20.0 * np.sin(2.0 * np.pi * at / 250.0)
    left = smooth_even(exact, 2.0, True, 16.0, 100.0)
    assert left.values == pytest.approx(exact, abs=1e-4) and left.removed_sd < 1e-4
    assert left.first == pytest.approx(
        20.0 * 2.0 * np.pi / 250.0 * np.cos(2.0 * np.pi * at / 250.0), abs=1e-5
    )
    noise = np.random.default_rng(2).normal(0.0, 0.5, len(at))
    found = smooth_even(exact + noise, 2.0, True, 16.0, 100.0)
    assert np.std(found.values - exact) < 0.15
    assert found.removed_sd == pytest.approx(0.5, rel=0.15)


def test_smoothing_an_open_line_keeps_its_ends():
    at = np.arange(0.0, 400.0, 2.0)
    exact = np.stack([at, 0.02 * at], axis=-1)
    found = smooth_even(exact, 2.0, False, 16.0, 100.0)
    assert found.values == pytest.approx(exact, abs=1e-9)
    assert found.second == pytest.approx(0.0, abs=1e-9)


def test_an_open_line_keeps_its_slope_up_to_its_ends():
    at = np.arange(0.0, 400.0, 2.0)
    bow = np.square(at) / 400.0
    found = smooth_even(bow, 2.0, False, 30.0, 30.0)
    assert found.first[[0, -1]] == pytest.approx([0.0, 2.0], abs=0.05)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_very_few_values_can_be_smoothed(count):
    found = smooth_even(np.arange(float(count)), 5.0, False, 16.0, 100.0)
    assert found.values == pytest.approx(np.arange(float(count)))


def test_the_noise_itself_is_larger_than_what_of_it_was_removed():
    noise = np.random.default_rng(3).normal(0.0, 0.5, 2000)
    signal = 20.0 * np.sin(2.0 * np.pi * np.arange(2000) / 500.0)
    found = smooth_even(signal + noise, 2.0, True, 16.0, 100.0)
    assert found.noise_sd == pytest.approx(0.5, rel=0.05)
    assert found.removed_sd < found.noise_sd


@pytest.mark.parametrize(("wave_m", "kept"), [(200.0, 1.0), (50.0, 0.5), (12.5, 0.0)])
def test_where_one_wavelength_is_given_half_of_it_is_kept(wave_m, kept):
    at = np.arange(0.0, 1000.0, 2.5)
    wave = np.sin(2.0 * np.pi * at / wave_m)
    found = smooth_even(wave, 2.5, True, 50.0, 50.0)
    assert found.wavelength_m == 50.0
    assert found.values == pytest.approx(kept * wave, abs=1e-3)


def test_columns_are_smoothed_alike():
    noise = np.random.default_rng(4).normal(size=(200, 2))
    both = smooth_even(noise, 2.0, False, 20.0, 20.0)
    alone = smooth_even(noise[:, 1], 2.0, False, 20.0, 20.0)
    assert both.values[:, 1] == pytest.approx(alone.values)


def test_the_mean_leaves_out_what_is_not_known():
    rows = np.array([[1.0, np.nan, np.nan], [3.0, 5.0, np.nan]])
    np.testing.assert_array_equal(mean_of_known(rows), [2.0, 5.0, np.nan])
