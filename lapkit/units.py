"""Units of measurement. Inside lapkit every number is SI; other units exist at the edges only."""

from __future__ import annotations

from enum import StrEnum

from lapkit.errors import OptionError

GRAVITY_MPS2 = 9.80665
"""Standard acceleration of free fall (ISO 80000-3)."""

KNOT_MPS = 1852.0 / 3600.0
"""One international knot in metres per second (exact)."""

MILE_M = 1609.344
"""One statute mile in metres (exact)."""

MPH_MPS = MILE_M / 3600.0
"""One mile per hour in metres per second (exact)."""

KMH_MPS = 1.0 / 3.6
"""One kilometre per hour in metres per second (exact)."""

FOOT_M = 0.3048
"""One international foot in metres (exact)."""


class Units(StrEnum):
    """The units that a reader chose for his page: their names and sizes."""

    METRIC = "metric"
    US = "us"

    @classmethod
    def named(cls, name: str) -> Units:
        """The units of that name, in any case.

        Raises:
            OptionError: there is no such name.
        """
        try:
            return cls(str(name).lower())
        except ValueError:
            names = ", ".join(cls)
            raise OptionError(
                f"no units are called {name!r}", remedy=f"Use one of {names}."
            ) from None

    @property
    def length_m(self) -> float:
        """The size of the unit of length, metres."""
        return FOOT_M if self is Units.US else 1.0

    @property
    def length(self) -> str:
        """The name of the unit of length."""
        return "ft" if self is Units.US else "m"

    @property
    def speed_mps(self) -> float:
        """The size of the unit of speed, m/s."""
        return MPH_MPS if self is Units.US else KMH_MPS

    @property
    def speed(self) -> str:
        """The name of the unit of speed."""
        return "mph" if self is Units.US else "km/h"

    @property
    def words(self) -> str:
        """Both units in words, for the head of a page."""
        return f"{'feet' if self is Units.US else 'metres'} and {self.speed}"
