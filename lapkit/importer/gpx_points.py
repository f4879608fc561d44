"""Track points of a GPX file, as the handlers of an XML parser gather them."""

from __future__ import annotations

import math
from array import array
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from lapkit.arrays import FloatArray
from lapkit.importer.fixes import FIX_WORDS
from lapkit.importer.times import parse_iso, to_seconds

# Element (lower case, without its namespace prefix) → channel.
_ELEMENTS = {
    "ele": "height_m",
    "speed": "speed_mps",
    "course": "heading_deg",
    "heading": "heading_deg",
    "bearing": "heading_deg",
    "hdop": "hdop",
    "sat": "satellites",
    "fix": "fix_quality",
    "accuracy": "accuracy_m",
    "hacc": "accuracy_m",
}
OTHER_POINTS = {"wpt": "waypoint", "rtept": "route point"}
"""Elements of points that are no track points → what they are called."""

_BARE_ONLY = ("ele", "time")  # inside extensions these are something else
_TAGS = {"trkpt", "time", "extensions", *_ELEMENTS, *OTHER_POINTS}
_OTHER = "-"  # the tag of any other element

_NAMES_KEPT = 10_000  # of elements; a file that invents ever more must not fill memory
# A point's extensions are ten deep; the parser keeps a record of every open element.
_DEEPEST = 1_000

Start = Callable[[str, dict[str, str]], None]
End = Callable[[str], None]


class RefusedError(Exception):
    """Raised inside a handler to stop the parser; says what is wrong with the file."""


@dataclass(eq=False)
class Column:
    """Values of one channel with the numbers of the points they belong to, so that absent ones cost nothing."""

    point: array[int] = field(default_factory=lambda: array("q"))
    value: array[float] = field(default_factory=lambda: array("d"))

    def full(self, count: int) -> FloatArray:
        """One value for each of ``count`` points; NaN where the point has none, the first where it has several."""
        point, value = np.frombuffer(self.point, dtype=np.int64), np.frombuffer(self.value)
        if np.array_equal(point, np.arange(count)):
            return value
        values = np.full(count, np.nan)
        values[point[::-1]] = value[::-1]  # backward, so that the first is written last
        return values


class Points:
    """Track points gathered from one file.

    Attributes:
        lat, lon: degrees, a value for each point.
        times: seconds since 1970-01-01T00:00:00Z.
        time_texts: texts of times whose points are in ``times`` already, but whose values are not.
        columns: values by channel.
        texts: pieces of character data since the last opening tag.
        others: how many points there are that are no track points, by their tag.
        without_zone: how many times have no time zone.
    """

    def __init__(self) -> None:
        self.lat = array("d")
        self.lon = array("d")
        self.times = Column()
        self.time_texts: list[str] = []
        self.columns = {channel: Column() for channel in _ELEMENTS.values()}
        self.texts: list[str] = []
        self.others: dict[str, int] = {}
        self.without_zone = 0

    def adders(self) -> dict[str, tuple[Callable[[int], None], Callable[[float], None]]]:
        """For each element of a channel, by its tag: what takes the point's number, and what takes the value."""
        return {
            tag: (self.columns[channel].point.append, self.columns[channel].value.append)
            for tag, channel in _ELEMENTS.items()
        }

    def read_times(self) -> None:
        """Turn the texts of times gathered so far into numbers."""
        microseconds, naive = parse_iso(list(map(str.strip, self.time_texts)))
        self.times.value.frombytes(to_seconds(microseconds).tobytes())
        self.without_zone += naive
        self.time_texts.clear()


@dataclass(eq=False, slots=True)
class _Where:
    """Where in the file the parser is; shared by the handlers of opening and of closing tags.

    ``number`` is that of the point last opened.
    """

    depth: int = 0
    in_point: bool = False
    in_extensions: bool = False
    number: int = -1


def handlers_for(points: Points) -> tuple[Start, End]:
    """Handlers of opening and closing tags; closures over bound methods, for speed.

    The handler of opening tags raises :class:`RefusedError` where elements are nested deeper than in any log.
    """
    where, tags = _Where(), _Tags()
    return _opening(points, tags, where), _closing(points, tags, where)


def _opening(points: Points, tags: _Tags, where: _Where) -> Start:
    texts, lat, lon, tag_of = points.texts, points.lat, points.lon, tags.get

    def start(name: str, attributes: dict[str, str]) -> None:
        texts.clear()
        where.depth += 1
        if where.depth > _DEEPEST:
            raise RefusedError(f"its elements are nested more than {_DEEPEST} deep")
        tag = tag_of(name) or tags.learn(name)
        if tag == "trkpt":
            where.number = len(lat)
            try:
                place = float(attributes["lat"]), float(attributes["lon"])
            except (KeyError, ValueError):
                place = math.nan, math.nan
            lat.append(place[0])
            lon.append(place[1])
            where.in_point, where.in_extensions = True, False
        elif tag == "extensions":
            where.in_extensions = True
        elif tag in OTHER_POINTS:
            points.others[tag] = points.others.get(tag, 0) + 1

    return start


def _closing(points: Points, tags: _Tags, where: _Where) -> End:
    texts, tag_of, adders_of = points.texts, tags.get, points.adders().get
    add_time_text, add_timed_point = points.time_texts.append, points.times.point.append

    def end(name: str) -> None:
        where.depth -= 1
        if not where.in_point:
            return
        # The name was learned at the opening tag, but may have been forgotten since.
        tag = tag_of(name, _OTHER)
        if where.in_extensions and tag in _BARE_ONLY:
            return
        if add := adders_of(tag):
            add_point, add_value = add
            add_point(where.number)
            try:
                add_value(float(texts[0] if len(texts) == 1 else "".join(texts)))
            except ValueError:
                add_value(_word_value(tag, "".join(texts)))
        elif tag == "time":
            add_timed_point(where.number)
            add_time_text("".join(texts))
        elif tag == "trkpt":
            where.in_point = False
        elif tag == "extensions":
            where.in_extensions = False

    return end


def _word_value(tag: str, text: str) -> float:
    """A text that is no number: a kind of fix, or nothing."""
    return FIX_WORDS.get(text.strip().lower(), math.nan) if tag == "fix" else math.nan


class _Tags(dict[str, str]):
    """Element name as written → its tag: the local name in lower case when it is one of ours, else a dash."""

    def learn(self, name: str) -> str:
        """Add a name that is not yet known, and return its tag."""
        if len(self) > _NAMES_KEPT:
            self.clear()
        local = name.rpartition(":")[2].lower()
        tag = self[name] = local if local in _TAGS else _OTHER
        return tag
