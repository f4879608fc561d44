"""Track points written alike, read many at once.

Most of a GPX file is one point after the other, of the same elements in the same order. Runs of such points
are cut out of what the XML parser is given and read by a pattern made from the file's first point, in a sixth
of the time. Whatever is written otherwise goes to the parser, in its place.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Iterator, Sequence
from typing import NamedTuple
from xml.parsers import expat

from lapkit.importer.gpx_points import Points, handlers_for

_OPENS, _CLOSES = b"<trkpt", b"</trkpt>"
# What differs from point to point: attributes in double quotes, and texts of more than white space.
_VALUE = re.compile(rb"""(?<==")[^"<>&]*(?=")|(?<=>)[^<>&]*[^<>&\s][^<>&]*(?=<)""")
# Printable ASCII without anything that means something in XML.
_PLAIN = rb"""[^<>&"'\x00-\x1f\x7f-\xff]*+"""
_BLANK = b" \t\r\n"
_SPACE = rb"[ \t\r\n]*+"
_ANYTHING = rb"|((?s:.)[^<]*+)"  # else, up to where a point may begin
_END = re.compile(rb"</(?:[^<>]*:)?gpx\s*>", re.IGNORECASE)
# Inside a comment and the like there are no points, whatever it looks like; an XML declaration is none of them.
_HIDING = re.compile(rb"<(?:!|\?(?!xml\s))")
_LONGEST_POINT = 16 * 1024  # bytes; a point of a log has some hundred
_NUMBERS_FROM = 7_000_000  # no latitude and nothing else that a receiver logs


class _Pattern(NamedTuple):
    """How points look, and which of the values are what.

    ``one`` finds the values of a point, and then a last one that is not empty where there is none.
    """

    one: re.Pattern[bytes]
    run: re.Pattern[bytes]
    lat: int
    lon: int
    time: int | None
    channels: tuple[tuple[str, int], ...]

    def next_run(self, data: bytes, start: int) -> _Run | None:
        """The next run of points from a place on."""
        run = self.run.search(data, start)
        return run and _Run(*run.span(), self._values(data, *run.span())[:-1])

    def single_run(self, data: bytes, start: int) -> _Run | None:
        """All from the first point to the last as a run, where nothing else is between: it is matched only once."""
        first, stop = data.find(_OPENS, start), data.rfind(_CLOSES) + len(_CLOSES)
        if not start <= first < stop:
            return None
        *values, others = self._values(data, first, stop)
        return None if any(others) else _Run(first, stop, values)

    def _values(self, data: bytes, start: int, stop: int) -> list[tuple[bytes, ...]]:
        return list(zip(*self.one.findall(data, start, stop), strict=True))


class _Run(NamedTuple):
    """Points written alike, one behind the other: where they are, and the texts of each of their values."""

    start: int
    stop: int
    values: list[tuple[bytes, ...]]


class Alike:
    """Takes runs of points out of a file on its way to the parser.

    In sound XML they are just the points that the parser would have found. In a broken file some may come
    from beyond the break, of which the parser tells in the end; the file is then to be read again without
    this.
    """

    def __init__(self, points: Points) -> None:
        self._points = points
        self._pattern: _Pattern | None = None
        self._off = False
        self._held = b""
        self._before = b">"  # what the last piece ends with: a run is one only behind a whole tag

    def pieces(self, chunk: bytes) -> Iterator[bytes]:
        """What the parser shall be given of the next bytes; each before the next one is asked for.

        Between two of them points of a run may be added.
        """
        data, self._held = self._held + chunk, b""
        self._off |= _HIDING.search(data) is not None
        if self._off:
            yield data
            return
        start = 0
        if self._pattern is None:
            opens = data.find(_OPENS)
            closes = data.find(_CLOSES, opens)
            if opens >= 0 and closes >= 0:
                start = closes + len(_CLOSES)
                yield data[:start]
                self._learn(data[opens:start])
        pattern = self._pattern
        run = pattern and (pattern.single_run(data, start) or pattern.next_run(data, start))
        while pattern and run:
            piece = data[start : run.start]
            yield piece
            start, whole = run.start, (piece.strip(_BLANK) or self._before).endswith(b">")
            ended = _END.search(piece)
            if ended or not whole or not self._add(pattern, run.values):
                self._pattern, self._off = None, True
                break
            start, self._before = run.stop, b">"
            run = pattern.next_run(data, start)
        data = self._held_back(data[start:])
        self._before = data.strip(_BLANK)[-1:] or self._before
        yield data

    def rest(self) -> bytes:
        """What was held back at the end of the file."""
        return self._held

    def _held_back(self, data: bytes) -> bytes:
        """The same without a point at the end that is not whole yet, and what may become a comment."""
        if self._off:
            return data
        begun = data.rfind(_OPENS)
        if begun < 0 or _CLOSES in data[begun:] or len(data) - begun > _LONGEST_POINT:
            begun = len(data) - data.endswith(b"<")
        self._held = data[begun:]
        return data[:begun]

    def _learn(self, sample: bytes) -> None:
        """Make the pattern from a point that the parser has just read; off if it cannot be."""
        self._pattern = _pattern_of(sample) if len(self._points.lat) else None
        self._off = self._pattern is None

    def _add(self, pattern: _Pattern, values: Sequence[Sequence[bytes]]) -> bool:
        """Add the points of a run, all or none; whether all their values are numbers."""
        try:
            lat, lon = (array("d", map(float, values[i])) for i in (pattern.lat, pattern.lon))
            channels = [(name, array("d", map(float, values[i]))) for name, i in pattern.channels]
        except ValueError:
            return False
        points = self._points
        numbers = array("q", range(len(points.lat), len(points.lat) + len(lat)))
        points.lat.extend(lat)
        points.lon.extend(lon)
        for name, of_channel in channels:
            points.columns[name].point.extend(numbers)
            points.columns[name].value.extend(of_channel)
        if pattern.time is not None:
            points.times.point.extend(numbers)
            points.time_texts += b"\n".join(values[pattern.time]).decode("ascii").split("\n")
        return True


def _pattern_of(sample: bytes) -> _Pattern | None:
    """The pattern of a point; None where it is not one value a channel.

    Which value is what is seen by reading the point once with numbers instead of its values.
    """
    literals, count = _VALUE.split(sample), len(_VALUE.findall(sample))
    numbers = [b"%d" % (_NUMBERS_FROM + i) for i in range(count)]
    points = _read_once(b"".join(map(b"".join, zip(literals, [*numbers, b""], strict=True))))
    if points is None:
        return None
    channels = {name: column.value for name, column in points.columns.items() if column.value}
    which: dict[str, int] = {}
    for name, seen in {"lat": points.lat, "lon": points.lon, **channels}.items():
        if len(seen) != 1 or seen[0] - _NUMBERS_FROM not in range(count):
            return None
        which[name] = int(seen[0]) - _NUMBERS_FROM
    times = [text.encode() for text in points.time_texts]
    if len(times) > 1 or any(text not in numbers for text in times):
        return None
    parts = [re.escape(text) for text in literals]
    return _Pattern(
        one=re.compile((b"(" + _PLAIN + b")").join(parts) + _SPACE + _ANYTHING),
        run=re.compile(b"(?:" + _PLAIN.join(parts) + _SPACE + b")++"),
        lat=which.pop("lat"),
        lon=which.pop("lon"),
        time=numbers.index(times[0]) if times else None,
        channels=tuple(which.items()),
    )


def _read_once(text: bytes) -> Points | None:
    """What a parser gathers from one point on its own."""
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
