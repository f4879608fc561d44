"""Rides on a circle with a receiver on top: everything about them is known in closed form."""

from dataclasses import dataclass

import numpy as np
import pytest

from lapkit.course.plane import Plane
from lapkit.importer.log import Log
from lapkit.path.model import Noise, Observed
from lapkit.path.offset_knots import OffsetKnots
from lapkit.units import GRAVITY_MPS2

PLANE = Plane(47.0, 8.0)


@dataclass(frozen=True)
class Circle:
    """A circle of ``radius_m`` ridden to the left at ``speed_mps``, mass path."""

    radius_m: float = 50.0
    speed_mps: float = 20.0

    @property
    def lean_rad(self):
        return np.arctan(self.speed_mps**2 / self.radius_m / GRAVITY_MPS2)

    def log(
        self,
        *,
        rate_hz=10.0,
        lasts_s=60.0,
        above_m=0.3,
        white_m=0.05,
        velocity_mps=0.07,
        seed=0,
        lag_s=0.0,
    ):
        rng = np.random.default_rng(seed)
        t = np.arange(0, lasts_s, 1 / rate_hz)
        radius = self.radius_m - above_m * np.sin(self.lean_rad)
        angle = self.speed_mps / self.radius_m * t
        x = radius * np.cos(angle) + rng.normal(0, white_m, len(t))
        y = radius * np.sin(angle) + rng.normal(0, white_m, len(t))
        late = self.speed_mps / self.radius_m * (t - lag_s)
        ridden = self.speed_mps * radius / self.radius_m
        noise = rng.normal(0, velocity_mps or 0.0, (2, len(t)))
        vx, vy = -ridden * np.sin(late) + noise[0], ridden * np.cos(late) + noise[1]
        lat, lon = PLANE.to_lat_lon(x, y)
        with_velocity = velocity_mps is not None
        return Log(
            source="circle.gpx",
            sha256="ab" * 32,
            time_s=1.78e9 + t,
            lat_deg=lat,
            lon_deg=lon,
            speed_mps=np.hypot(vx, vy) if with_velocity else None,
            heading_deg=np.degrees(np.arctan2(vx, vy)) % 360 if with_velocity else None,
        )


@pytest.fixture
def knots():
    """Knots of the offset over a quarter of an hour."""
    return OffsetKnots.covering(0.0, 900.0)


@pytest.fixture
def steady():
    """A receiver that hardly wanders within seconds."""
    return Noise(white_m=0.05, wander_m=0.01, wander_s=4.0, velocity_mps=0.1, roughness=5.0)


@pytest.fixture
def mark():
    """One hold point, at the origin."""
    return np.zeros((1, 2))


@pytest.fixture
def circle():
    return Circle()


@pytest.fixture
def plane():
    return PLANE


@pytest.fixture
def curves():
    """A function that rides a figure of curves at 25 m/s, with white noise on places and, where ``led``, on velocities."""

    def ridden(rate_hz=10.0, seconds=300.0, *, led=True, seed=1):
        rng = np.random.default_rng(seed)
        dense = np.arange(0.0, seconds, 0.01)
        heading = 2.0 * np.sin(dense / 7.0)
        v = 25.0 * np.stack([np.cos(heading), np.sin(heading)])
        fixes = slice(0, None, round(100.0 / rate_hz))
        t, place, v = dense[fixes], (0.01 * np.cumsum(v, axis=1))[:, fixes], v[:, fixes]
        place = place + 0.06 * rng.standard_normal(v.shape)
        v = v + 0.07 * rng.standard_normal(v.shape)
        ones = np.ones(len(t))
        return Observed(t, *place, ones, t, *v, ones * led)

    return ridden
