"""Lean, grip and tyre geometry: pure functions of arrays.

Lean is positive to the left here, as curvature is (ISO 8855); in tables it is positive into the turn. All functions
broadcast over their arguments and return float64 arrays of the same shape.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lapkit.arrays import FloatArray
from lapkit.units import GRAVITY_MPS2

USUAL_TYRE_RADIUS_M = 0.09
"""Crown radius of a rear tyre where nobody measured it, metres."""

USUAL_COM_HEIGHT_M = 0.6
"""Height of the centre of mass of machine and rider where nobody measured it, metres."""

LEAST_LOAD_MPS2 = 0.05 * GRAVITY_MPS2
"""The least load that is assumed, m/s². Over a crest taken fast enough the wheels would leave the ground, and the lean
would not be defined (our choice)."""


def balance_tangent(
    speed_mps: ArrayLike,
    curvature_1pm: ArrayLike,
    vertical_curvature_1pm: ArrayLike = 0.0,
    grade: ArrayLike = 0.0,
) -> FloatArray:
    """Tangent of the balance lean from the vertical: tan φ = v²κ cos²γ / (g cos γ + v²κ_v).

    Args:
        speed_mps: speed along the path, m/s.
        curvature_1pm: curvature of the path in plan, 1/m, left positive.
        vertical_curvature_1pm: curvature of the road in profile, 1/m, positive in a dip.
        grade: rise over run along the path, dimensionless.

    Source: equilibrium of gravity, vertical and lateral acceleration (algebra).
    """
    v2 = np.square(np.asarray(speed_mps, dtype=np.float64))
    cos = 1.0 / np.sqrt(1.0 + np.square(np.asarray(grade, dtype=np.float64)))
    load = GRAVITY_MPS2 * cos + v2 * np.asarray(vertical_curvature_1pm, dtype=np.float64)
    load = np.maximum(load, LEAST_LOAD_MPS2)
    return v2 * np.asarray(curvature_1pm, dtype=np.float64) * np.square(cos) / load


def balance_lean_deg(
    speed_mps: ArrayLike,
    curvature_1pm: ArrayLike,
    vertical_curvature_1pm: ArrayLike = 0.0,
    grade: ArrayLike = 0.0,
) -> FloatArray:
    """Balance lean from the vertical, degrees, left positive: at which gravity and cornering balance.

    Args:
        speed_mps: speed along the path, m/s.
        curvature_1pm: curvature of the path in plan, 1/m, left positive.
        vertical_curvature_1pm: curvature of the road in profile, 1/m, positive in a dip.
        grade: rise over run along the path, dimensionless.

    Source: the arctangent of :func:`balance_tangent`.
    """
    return np.degrees(
        np.arctan(balance_tangent(speed_mps, curvature_1pm, vertical_curvature_1pm, grade))
    )


def road_lean_deg(lean_deg: ArrayLike, camber_deg: ArrayLike) -> FloatArray:
    """Lean measured from the road's own normal, degrees.

    Args:
        lean_deg: balance lean into the corner, degrees.
        camber_deg: camber, degrees, positive banked to the inside and negative off camber.
    """
    return np.asarray(lean_deg, dtype=np.float64) - np.asarray(camber_deg, dtype=np.float64)


def grip_of_tangents(lean_tangent: ArrayLike, camber_tangent: ArrayLike) -> FloatArray:
    """Coefficient of friction asked for, signed into the turn: (A − e) / (1 + A e).

    Args:
        lean_tangent: tangent of the balance lean from the vertical, A.
        camber_tangent: tangent of the camber, e, positive banked to the inside.

    Source: tan(atan A − atan e) (algebra).
    """
    a, e = np.asarray(lean_tangent, dtype=np.float64), np.asarray(camber_tangent, dtype=np.float64)
    # The bound keeps it defined for a lean and a camber that no road has.
    return (a - e) / np.maximum(1.0 + a * e, 0.05)


def grip_demand(lean_deg: ArrayLike, camber_deg: ArrayLike = 0.0) -> FloatArray:
    """Coefficient of friction that cornering alone asks for: tan(φ − β), dimensionless.

    Arguments as for :func:`road_lean_deg`. It is what is demanded of the tyre, never what the tyre has left.
    """
    lean, camber = (np.tan(np.radians(angle)) for angle in (lean_deg, camber_deg))
    return np.abs(grip_of_tangents(lean, camber))


def speed_at_lean_mps(
    radius_m: ArrayLike, lean_deg: ArrayLike, vertical_curvature_1pm: ArrayLike = 0.0
) -> FloatArray:
    """Speed at which a radius asks for a lean, m/s: v² = g tan φ / (1/R − κ_v tan φ).

    Infinite on a straight, and in a dip so deep that every speed balances at less than that lean.

    Args:
        radius_m: radius in plan, m; infinite on a straight; at 0 the speed is 0.
        lean_deg: balance lean from the vertical, degrees, of either sign.
        vertical_curvature_1pm: curvature of the road in profile, 1/m, positive in a dip.

    Source: :func:`balance_tangent` on the level, solved for the speed (algebra).
    """
    tangent = np.tan(np.radians(np.abs(np.asarray(lean_deg, dtype=np.float64))))
    sag = tangent * np.asarray(vertical_curvature_1pm, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        per_v2 = 1.0 / np.asarray(radius_m, dtype=np.float64) - sag
        v2 = np.where(per_v2 > 0, GRAVITY_MPS2 * tangent / per_v2, np.inf)
    return np.sqrt(v2)


def tyre_width_lean_deg(
    lean_deg: ArrayLike,
    tyre_radius_m: float = USUAL_TYRE_RADIUS_M,
    com_height_m: float = USUAL_COM_HEIGHT_M,
) -> FloatArray:
    """Lean of the machine with the rider in line, once the tyre has width, degrees.

    φ = φ_i + asin(t sin φ_i / (h − t)), with φ_i the balance lean, t the crown radius of the tyre and h the height of the
    centre of mass, both in metres. A rider who hangs off takes about as much off again.

    Source: Cossalter, *Motorcycle Dynamics*, chapter 4 (attribution from memory; the formula agrees
    with an independent solution of the equilibrium).
    """
    ideal = np.radians(np.asarray(lean_deg, dtype=np.float64))
    ratio = tyre_radius_m * np.sin(ideal) / (com_height_m - tyre_radius_m)
    return np.degrees(ideal + np.arcsin(np.clip(ratio, -1.0, 1.0)))
