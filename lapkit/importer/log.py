"""What a receiver logged, and nothing else: the central type of the importer."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from functools import cached_property

import numpy as np

from lapkit.arrays import FloatArray, read_only
from lapkit.counting import counted
from lapkit.errors import LogError, printable

# In a step shorter than this many median ones no fix is missing: half way to where one is.
_NONE_MISSING = 1.5

CHANNELS = (
    "speed_mps",
    "heading_deg",
    "height_m",
    "accuracy_m",
    "hdop",
    "satellites",
    "fix_quality",
)
"""Names of the optional channels of a :class:`Log`."""


@dataclass(frozen=True)
class Dropped:
    """How many fixes were left out or altered while reading, and why.

    Attributes:
        reason: why, in words that follow the noun: ``without a readable time``.
        count: how many.
        noun: what a single one of them is called.
        done: what was done with them.
    """

    reason: str
    count: int
    noun: str = "fix"
    done: str = "left out"

    @property
    def text(self) -> str:
        """The same as a clause: ``3 fixes without a readable time were left out``."""
        many = "fixes" if self.noun == "fix" else ""
        was = "was" if self.count == 1 else "were"
        return f"{counted(self.count, self.noun, many)} {self.reason} {was} {self.done}"


@dataclass(frozen=True, eq=False)
class Log:
    """One receiver's fixes in time order.

    All arrays have shape ``(n,)``, are float64 and read-only. A channel that the file does not have
    is ``None``; where a single fix lacks a value, the channel holds NaN. Nothing is invented.

    Raises:
        LogError: a channel has not one value per fix, or times do not increase.

    Attributes:
        source: name of the file as the user gave it.
        sha256: hash of the file's bytes.
        time_s: seconds since 1970-01-01T00:00:00Z, strictly increasing; seconds since the first fix
            when ``has_clock`` is false.
        lat_deg, lon_deg: WGS 84, degrees; longitude in [-180, 180).
        speed_mps: speed over ground, metres per second.
        heading_deg: course over ground, degrees clockwise from true north.
        height_m: height, metres (whatever reference the receiver used).
        accuracy_m: the receiver's own estimate of its horizontal error, metres.
        hdop: horizontal dilution of precision.
        satellites: satellites used.
        fix_quality: as in NMEA 0183 GGA (0 none, 1 standalone, 2 differential, ...).
        has_clock: whether ``time_s`` is tied to a calendar.
        rider: who rode, where a column of the file says so; "" otherwise.
        dropped: what was left out or altered, with counts.
        guesses: what the reader had to guess → what it chose (delimiter, units, columns).
        notes: what else the user should know about the file (where it breaks off, what was ignored).
        breaks_off: whether the file ends before it should, so that fixes may be lost.
    """

    source: str
    sha256: str
    time_s: FloatArray
    lat_deg: FloatArray
    lon_deg: FloatArray
    speed_mps: FloatArray | None = None
    heading_deg: FloatArray | None = None
    height_m: FloatArray | None = None
    accuracy_m: FloatArray | None = None
    hdop: FloatArray | None = None
    satellites: FloatArray | None = None
    fix_quality: FloatArray | None = None
    has_clock: bool = True
    rider: str = ""
    dropped: tuple[Dropped, ...] = ()
    guesses: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    breaks_off: bool = False

    def __post_init__(self) -> None:
        for name in ("time_s", "lat_deg", "lon_deg", *CHANNELS):
            values = getattr(self, name)
            if values is None:
                continue
            frozen = read_only(values)
            if frozen.shape != (len(self.time_s),):
                raise LogError(
                    f"channel {name} has not one value per fix",
                    where=self.source,
                    remedy="Give every channel as many values as there are times, NaN where a fix lacks one.",
                )
            object.__setattr__(self, name, frozen)
        if len(self.time_s) > 1 and not np.all(np.diff(self.time_s) > 0):
            raise LogError(
                "times do not increase",
                where=self.source,
                remedy="Sort the fixes by time, and leave out those that repeat one.",
            )

    def __len__(self) -> int:
        return len(self.time_s)

    def __repr__(self) -> str:
        """One line, because a notebook would otherwise print every fix."""
        return f"<Log {printable(self.source)}: {counted(len(self), 'fix', 'fixes')}>"

    @property
    def has_velocity(self) -> bool:
        """Whether any fix carries both speed and heading."""
        if self.speed_mps is None or self.heading_deg is None:
            return False
        return bool(np.any(np.isfinite(self.speed_mps) & np.isfinite(self.heading_deg)))

    @cached_property
    def rate_hz(self) -> float:
        """Fixes per second while logging, missing ones not counted; NaN for fewer than two fixes.

        Written in hundredths of a second, the times of 18 fixes a second lie 0.05 and 0.06 s apart. So their usual step
        is the mean of those in which none is missing.
        """
        if len(self) < 2:
            return float("nan")
        step = np.diff(self.time_s)
        return float(1.0 / np.mean(step[step < _NONE_MISSING * np.median(step)]))

    def part(self, chosen: slice | np.ndarray) -> Log:
        """The same log with only the chosen fixes (a slice, or a boolean or index array)."""
        cut = {
            f.name: getattr(self, f.name)[chosen]
            for f in fields(self)
            if isinstance(getattr(self, f.name), np.ndarray)
        }
        return replace(self, **cut)
