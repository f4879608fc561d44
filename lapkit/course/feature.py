"""One feature of a track file, and the checked reading of its parts; every error names the feature.

The rules of GeoJSON are those of RFC 7946: longitude comes first, then latitude, then perhaps height; a geometry
may be null; a line across the antimeridian is a MultiLineString cut there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, NoReturn, TypeVar

import numpy as np

from lapkit.arrays import read_only
from lapkit.coordinates import one_turn_deg
from lapkit.course.types import GeoLine
from lapkit.errors import TrackError

Choice = TypeVar("Choice", bound=StrEnum)

FEATURE_MEMBERS = ("type", "geometry", "properties")
_LONGEST_TEXT = 2000  # a page of print; no name and no cue is longer
_LARGEST_NUMBER = 1e9  # no angle, length or lane number is larger
_JOINED_DEG = 1e-6  # a tenth of a metre: the parts of a line that was cut meet to within rounding


@dataclass(frozen=True, eq=False)
class Feature:
    """A feature as read: ``number`` counts from 1 in the file ``source``, ``raw`` is the whole feature."""

    source: str
    number: int
    raw: dict[str, Any]
    properties: dict[str, Any]
    geometry: dict[str, Any] | None

    @classmethod
    def of(cls, raw: Any, number: int, source: str) -> Feature:
        """The feature, once its structure has been checked.

        Raises:
            TrackError: it is no GeoJSON feature.
        """
        where = f"{source}, feature {number}"
        if not isinstance(raw, dict) or raw.get("type") != "Feature":
            raise TrackError(
                'this is not a GeoJSON feature (its "type" is not "Feature")',
                where=where,
                remedy="Remove it or write it as RFC 7946 asks.",
            )
        properties, geometry = raw.get("properties"), raw.get("geometry")
        for name, value in (("properties", properties), ("geometry", geometry)):
            if value is not None and not isinstance(value, dict):
                raise TrackError(
                    f'"{name}" is neither an object nor null', where=where, remedy="Correct it."
                )
        return cls(source, number, raw, properties or {}, geometry)

    @property
    def role(self) -> str:
        """The role; empty when the feature has none, or one that is no text."""
        role = self.properties.get("role")
        return role.strip() if isinstance(role, str) else ""

    @property
    def where(self) -> str:
        """File, number, role and name of the feature, for messages."""
        name = self.properties.get("name")
        named = f" {name!r}" if isinstance(name, str | int) and len(str(name)) < 80 else ""
        return f"{self.source}, feature {self.number} ({self.role or 'without role'}{named})"

    def refuse(self, what: str, remedy: str) -> NoReturn:
        """Raise a TrackError that names this feature."""
        raise TrackError(what, where=self.where, remedy=remedy)

    def others(self, *known: str) -> dict[str, Any]:
        """The properties that are not in ``known``."""
        return {k: v for k, v in self.properties.items() if k not in known and k != "role"}

    @property
    def members(self) -> dict[str, Any]:
        """The foreign members of the feature."""
        return {k: v for k, v in self.raw.items() if k not in FEATURE_MEMBERS}

    def text(self, key: str, *, required: bool = False) -> str:
        """A property as text on one line; a whole number counts as text. Empty when absent."""
        value = self.properties.get(key)
        if isinstance(value, int) and not isinstance(value, bool) and abs(value) < _LARGEST_NUMBER:
            value = str(value)
        if value is None:
            value = ""
        text = self._clean(value, key)
        if required and not text:
            self.refuse(f'property "{key}" is missing', f'Give it a "{key}".')
        return text

    def _clean(self, value: Any, key: str) -> str:
        if not isinstance(value, str):
            self.refuse(f'property "{key}" is not text', "Put it in quotes.")
        if len(value) > _LONGEST_TEXT:
            self.refuse(
                f'property "{key}" is longer than {_LONGEST_TEXT} characters', "Shorten it."
            )
        text = " ".join(value.split())
        if not text.isprintable():
            self.refuse(f'property "{key}" has characters that cannot be printed', "Remove them.")
        return text

    def texts(self, key: str) -> tuple[str, ...]:
        """A property that is a list of sentences (or a single one); empty when absent."""
        value = self.properties.get(key)
        if value is None:
            return ()
        if isinstance(value, str):
            value = [value]
        if not isinstance(value, list):
            self.refuse(f'property "{key}" is not a list of sentences', "Write it in brackets.")
        return tuple(text for text in (self._clean(item, key) for item in value) if text)

    def quantity(self, key: str, *, above: float = -np.inf) -> float | None:
        """A property that is a number, greater than ``above``; None when absent."""
        value = self.properties.get(key)
        if value is None:
            return None
        if not _is_number(value):
            self.refuse(f'property "{key}" is not a number', "Write it without quotes and units.")
        if not value > above:
            self.refuse(f'property "{key}" is {value:g}, not above {above:g}', "Correct it.")
        return float(value)

    def choice(self, key: str, kind: type[Choice]) -> Choice:
        """A property that is one of a few words, in upper or lower case, with spaces, dashes or underscores."""
        word = self.text(key, required=True)
        normal = "_".join(word.lower().replace("-", " ").replace("_", " ").split())
        for member in kind:
            if member.value == normal:
                return member
        good = ", ".join(member.value for member in kind)
        return self.refuse(f'property "{key}" is {word!r}', f"Use one of: {good}.")

    def point(self) -> tuple[float, float, float | None]:
        """Longitude, latitude and height (or None) of a Point."""
        return self._position(self._coordinates("Point"))

    def line(self, *known: str) -> GeoLine:
        """The feature as a line, its parts joined when it was cut at the antimeridian.

        ``known`` names properties that the caller reads himself.
        """
        kind = self.geometry.get("type") if self.geometry else None
        if kind == "MultiLineString":
            parts = self._coordinates("MultiLineString")
            if not isinstance(parts, list) or not parts:
                self.refuse("its line has no pieces", "Draw or record it again.")
            positions = self._joined([self._positions(part) for part in parts])
        else:
            positions = self._positions(self._coordinates("LineString"))
        height = np.array([np.nan if p[2] is None else p[2] for p in positions])
        return GeoLine(
            lon_lat=read_only([p[:2] for p in positions]),
            height_m=read_only(height) if np.any(np.isfinite(height)) else None,
            name=self.text("name"),
            corner=self.text("corner"),
            properties=self.others("name", "corner", *known),
            members=self.members,
        )

    def shape(self, *kinds: str) -> dict[str, Any]:
        """The geometry as it stands, once it is known to be of one of ``kinds`` and to have sound positions."""
        kind = self.geometry.get("type") if self.geometry else None
        if kind not in kinds or self.geometry is None:
            self._wrong_geometry(" or ".join(kinds))
        coordinates = self.geometry.get("coordinates")
        if kind == "Point":
            self._position(coordinates)
        elif kind == "LineString":
            self._positions(coordinates)
        elif isinstance(coordinates, list) and coordinates:
            for ring in coordinates:
                self._positions(self._ring(ring))
        else:
            self.refuse("its polygon has no rings", "Draw it again.")
        return self.geometry

    def _ring(self, ring: Any) -> list[Any]:
        if not isinstance(ring, list) or len(ring) < 4 or ring[0] != ring[-1]:
            self.refuse(
                "a ring of its polygon is not closed", "Repeat its first position at the end."
            )
        return ring

    def _coordinates(self, kind: str) -> Any:
        if self.geometry is None or self.geometry.get("type") != kind:
            self._wrong_geometry(kind)
        return self.geometry.get("coordinates")

    def _wrong_geometry(self, wanted: str) -> NoReturn:
        kind = self.geometry.get("type") if self.geometry else "null"
        self.refuse(f"its geometry is {str(kind)[:40]}", f"A {self.role} needs a {wanted}.")

    def _positions(self, value: Any) -> list[tuple[float, float, float | None]]:
        if not isinstance(value, list) or len(value) < 2:
            self.refuse("a line needs at least two positions", "Draw or record it again.")
        return [self._position(position) for position in value]

    def _position(self, value: Any) -> tuple[float, float, float | None]:
        if (
            not isinstance(value, list)
            or len(value) < 2
            or not all(_is_number(number) for number in value[:3])
        ):
            self.refuse(
                "a position is not made of numbers",
                "Write it as [longitude, latitude] or [longitude, latitude, height].",
            )
        lon, lat = float(value[0]), float(value[1])
        if abs(lat) > 90.0 or abs(lon) > 180.0:
            swapped = abs(lon) <= 90.0 and abs(lat) <= 180.0
            self.refuse(
                f"position [{lon:g}, {lat:g}] is not on the Earth",
                "Longitude comes first, then latitude; these look swapped."
                if swapped
                else "Longitude lies between -180 and 180 degrees, latitude between -90 and 90.",
            )
        return lon, lat, float(value[2]) if len(value) > 2 else None

    def _joined(
        self, parts: list[list[tuple[float, float, float | None]]]
    ) -> list[tuple[float, float, float | None]]:
        joined: list[tuple[float, float, float | None]] = []
        for part in parts:
            if joined:
                east = float(one_turn_deg(part[0][0] - joined[-1][0]))
                if max(abs(east), abs(part[0][1] - joined[-1][1])) > _JOINED_DEG:
                    self.refuse("its line is in several pieces", "Join them to one LineString.")
            joined.extend(part[1:] if joined else part)
        return joined


def _is_number(value: Any) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and abs(value) < _LARGEST_NUMBER  # a NaN fails here too
    )


def _refuse_other_system(crs: Any, source: str) -> None:
    """Refuse a coordinate system other than that of RFC 7946; older files may name one."""
    named = crs.get("properties") if isinstance(crs, dict) else None
    name = str(named.get("name", "")) if isinstance(named, dict) else ""
    if name and not name.replace(":", " ").endswith((" CRS84", " 4326", " 4979")):
        raise TrackError(
            f"its coordinates are in another coordinate system ({name[:60]})",
            where=source,
            remedy="Export it in degrees on WGS 84, as RFC 7946 asks.",
        )


def features(document: Any, source: str) -> Iterator[Feature]:
    """The features of a parsed GeoJSON document.

    Raises:
        TrackError: the document is no FeatureCollection, or one of its features is none.
    """
    if not isinstance(document, dict) or document.get("type") != "FeatureCollection":
        raise TrackError(
            "this is not a GeoJSON FeatureCollection",
            where=source,
            remedy="A track file is GeoJSON as in RFC 7946; `lapkit walk` writes one.",
        )
    listed = document.get("features")
    if not isinstance(listed, list):
        raise TrackError('it has no list "features"', where=source, remedy="Write the file again.")
    _refuse_other_system(document.get("crs"), source)
    for number, raw in enumerate(listed, start=1):
        yield Feature.of(raw, number, source)
