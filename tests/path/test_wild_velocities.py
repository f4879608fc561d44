"""Velocities that err for a few fixes are told from those that only carry noise, and the path does not follow them."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.path.ridden import ride_path
from lapkit.simulate.courses import built_in
from lapkit.simulate.receiver import Receiver, observe
from lapkit.simulate.ride import ride
from lapkit.simulate.style import STYLES

COURSE = built_in("twisty")
RIDE = ride(COURSE, STYLES["quick"], laps=3, seed=2, epoch_s=1.78e9)
AT_S = np.arange(70.0, RIDE.end_s - 70.0, 0.2)
LEAN_DEG = RIDE.at(AT_S).lean_deg
FIRST_S = np.arange(75.0, RIDE.end_s - 75.0, 15.0)  # on the move


def erring(log, by_mps, fixes):
    """The log with velocities that are off to the north-east for some fixes, again and again, and where."""
    first = np.searchsorted(log.time_s, 1.78e9 + FIRST_S)
    off = (first[:, None] + np.arange(fixes)).ravel()
    velocity = log.speed_mps * np.exp(1j * np.radians(log.heading_deg))
    velocity[off] += by_mps * np.exp(0.25j * np.pi)
    heading_deg = np.degrees(np.angle(velocity)) % 360.0
    return replace(log, speed_mps=np.abs(velocity), heading_deg=heading_deg), off


def lean_off(path):
    return np.abs(path.as_received(1.78e9 + AT_S).lean_deg[0] - LEAN_DEG).max()


@pytest.mark.parametrize("rate_hz", [10.0, 20.0])
@pytest.mark.parametrize(("by_mps", "fixes"), [(1.0, 2), (1.0, 5), (2.0, 3)])
def test_they_are_found_and_the_path_leans_as_without_them(rate_hz, by_mps, fixes):
    """Before, the path leant up to 20 degrees too far beside them."""
    log = observe(RIDE, Receiver(rate_hz=rate_hz), 3)
    sound = ride_path(log, COURSE.plane, course=COURSE, draws=2)
    wrong, off = erring(log, by_mps, fixes)
    path = ride_path(wrong, COURSE.plane, course=COURSE, draws=2)
    assert sound.estimate.wild_velocities == 0
    assert np.mean(path.estimate.seen.velocity_weight[off] == 0.0) > 0.9
    assert len(off) <= path.estimate.wild_velocities + 4 <= 2 * len(off) + 4
    assert np.all(path.estimate.seen.position_weight[off] == 1.0)
    assert lean_off(path) < lean_off(sound) + 1.0
    # What they err by is not taken for noise of all velocities.
    noise, usual = (each.estimate.noise.velocity_mps for each in (path, sound))
    assert noise == pytest.approx(usual, rel=0.1)


@pytest.mark.parametrize(
    "receiver",
    [
        Receiver(bias_m=0.4, wander_m=0.03, white_m=0.01, velocity_mps=0.03),
        Receiver(bias_m=2.0, wander_m=0.5, white_m=0.3, velocity_mps=0.2),
        Receiver(lag_s=0.3, heading_step_deg=1.0),
        Receiver(freeze_below_mps=4.0, gaps_per_hour=60.0, missing_share=0.05),
        Receiver(wild_share=0.01, wild_run=3, drifts_per_hour=30.0),
        Receiver(rate_hz=1.0),
        Receiver(velocity_mps=None),
    ],
)
def test_other_logs_keep_every_velocity(receiver):
    path = ride_path(observe(RIDE, receiver, 5), COURSE.plane, draws=2)
    assert path.estimate.wild_velocities == 0


def test_small_errors_of_an_exact_receiver_are_believed():
    exact = Receiver(bias_m=0.4, wander_m=0.03, white_m=0.01, velocity_mps=0.02)
    wrong, _ = erring(observe(RIDE, exact, 3), 0.25, 3)
    assert ride_path(wrong, COURSE.plane, draws=2).estimate.wild_velocities == 0
