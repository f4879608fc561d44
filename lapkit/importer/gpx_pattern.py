"""How the track points of a GPX file are written: a pattern made from one of them, which finds the others alike."""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.parsers import expat

from lapkit.importer.gpx_points import Points, handlers_for

OPENS, CLOSES = b"<trkpt", b"</trkpt>"
"""What a track point begins and ends with, where it is written without a prefix."""

# What differs from point to point: attributes in double quotes, and texts of more than white space.
_VALUE = re.compile(rb"""(?<==")[^"<>&]*(?=")|(?<=>)[^<>&]*[^<>&\s][^<>&]*(?=<)""")
# A value: printable ASCII without anything that has a meaning in XML. Its quantifiers are possessive ("*+"), so that no
# text makes the pattern slow.
_PLAIN = rb"""[^<>&"'\x00-\x1f\x7f-\xff]*+"""
_SPACE = rb"[ \t\r\n]*+"
_NUMBERS_FROM = 7_000_000  # no latitude, and nothing else that a receiver logs


@dataclass(frozen=True)
class Run:
    """Points written alike, one behind the other.

    Attributes:
        start, stop: where they are in the bytes that were searched.
        values: for each value of a point its texts, one per point.
    """

    start: int
    stop: int
    values: list[list[bytes]]


@dataclass(frozen=True)
class Pattern:
    """How the points of a file are written, and which of their values are what.

    Attributes:
        one: matches a point, with a group for each of its values.
        run: matches points one behind the other.
        lat, lon, time: places of these among the values; time is None when points have none.
        channels: name and place of each optional channel.
    """

    one: re.Pattern[bytes]
    run: re.Pattern[bytes]
    lat: int
    lon: int
    time: int | None
    channels: tuple[tuple[str, int], ...]

    def next_run(self, data: bytes, start: int) -> Run | None:
        """The next run of points from a place on."""
        found = self.run.search(data, start)
        if found is None:
            return None
        _, values = self._split(data[found.start() : found.end()])
        return Run(*found.span(), values)

    def single_run(self, data: bytes, start: int) -> Run | None:
        """All from the first point to the last as one run, where nothing else is between them.

        It gives what :meth:`next_run` gives, but faster: it matches once instead of twice.
        """
        first, stop = data.find(OPENS, start), data.rfind(CLOSES) + len(CLOSES)
        if not start <= first < stop:
            return None
        between, values = self._split(data[first:stop])
        return None if any(between) else Run(first, stop, values)

    def _split(self, points: bytes) -> tuple[list[bytes], list[list[bytes]]]:
        """What stands before, between and behind points, and for each of their values its texts, one per point."""
        parts, step = self.one.split(points), 1 + self.one.groups
        return parts[::step], [parts[value::step] for value in range(1, step)]


def pattern_of(sample: bytes) -> Pattern | None:
    """The pattern of a point, or None where a channel has not exactly one value in it.

    Which value is what is found by reading the point once with numbers in place of its values.
    """
    literals = _VALUE.split(sample)
    numbers = [b"%d" % (_NUMBERS_FROM + i) for i in range(len(literals) - 1)]
    numbered = [text for pair in zip(literals, [*numbers, b""], strict=True) for text in pair]
    points = _read_alone(b"".join(numbered))
    if points is None:
        return None
    channels = {name: column.value for name, column in points.columns.items() if column.value}
    place: dict[str, int] = {}
    for name, values in {"lat": points.lat, "lon": points.lon, **channels}.items():
        if len(values) != 1 or values[0] - _NUMBERS_FROM not in range(len(numbers)):
            return None
        place[name] = int(values[0]) - _NUMBERS_FROM
    times = [text.encode() for text in points.time_texts]
    if len(times) > 1 or any(text not in numbers for text in times):
        return None
    parts = [re.escape(text) for text in literals]
    return Pattern(
        one=re.compile((b"(" + _PLAIN + b")").join(parts) + _SPACE),
        # Not possessive as a whole: in Python 3.11.0 to 3.11.4 such a match runs on into the point that is written otherwise.
        run=re.compile(b"(?:" + _PLAIN.join(parts) + _SPACE + b")+"),
        lat=place.pop("lat"),
        lon=place.pop("lon"),
        time=numbers.index(times[0]) if times else None,
        channels=tuple(place.items()),
    )


def _read_alone(text: bytes) -> Points | None:
    """What a parser gathers from one point on its own; None where that is no XML."""
    points = Points()
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = handlers_for(points)
    parser.CharacterDataHandler = points.texts.append
    try:
        parser.Parse(text, True)
    except expat.ExpatError:
        return None
    return points
