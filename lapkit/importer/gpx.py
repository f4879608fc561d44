"""GPX 1.0, 1.1 and unversioned: track points → raw fixes, as a stream and without entities."""

from __future__ import annotations

import codecs
import math
import re
from array import array
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from xml.parsers import expat

import numpy as np

from lapkit.errors import LogError
from lapkit.importer.fixes import RawFixes
from lapkit.importer.source import Source, safe_name
from lapkit.importer.times import parse_iso, to_seconds
from lapkit.units import FloatArray

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
# The words of GPX's <fix> as the numbers of NMEA 0183.
_FIX_WORDS = {"none": 0.0, "2d": 1.0, "3d": 1.0, "dgps": 2.0, "pps": 3.0}
_OTHER_POINTS = {"wpt": "waypoints", "rtept": "route points"}
_BARE = ("ele", "time")  # inside extensions these are something else
_TAGS = {"trkpt", "time", "extensions", *_ELEMENTS, *_OTHER_POINTS}

_ENCODING = re.compile(rb"""<\?xml[^>]*encoding=["']([^"']*)["']""")
_CHUNK_BYTES = 256 * 1024
_TAG_BYTES = 8 * 1024**2
_TIMES_AT_ONCE = 8_192
_NAMES_KEPT = 10_000
_PIECES_KEPT = 64


Start = Callable[[str, dict[str, str]], None]
End = Callable[[str], None]


class _RefusedError(Exception):
    """Raised inside a handler to stop the parser; holds what is wrong."""


@dataclass(eq=False)
class _Column:
    """Values of one channel with the points they belong to, so that absent ones cost nothing."""

    point: array[int] = field(default_factory=lambda: array("q"))
    value: array[float] = field(default_factory=lambda: array("d"))

    def full(self, count: int) -> FloatArray:
        """One value per point, NaN where the point has none; the first one where it has several."""
        point, value = np.frombuffer(self.point, dtype=np.int64), np.frombuffer(self.value)
        if np.array_equal(point, np.arange(count)):
            return value
        values = np.full(count, np.nan)
        values[point[::-1]] = value[::-1]
        return values


class _Points:
    """Track points gathered by the handlers of one parser."""

    def __init__(self) -> None:
        self.lat = array("d")
        self.lon = array("d")
        self.times = _Column()
        self.time_texts: list[str] = []
        """Times that are not yet among ``times.value``."""
        self.columns = {channel: _Column() for channel in _ELEMENTS.values()}
        self.texts: list[str] = []
        """Pieces of character data since the last opening tag."""
        self.others: dict[str, int] = {}
        self.without_zone = 0

    def adders(self) -> dict[str, tuple[Callable[[int], None], Callable[[float], None]]]:
        """What takes the point and the value of each element, by its tag."""
        return {
            tag: (self.columns[channel].point.append, self.columns[channel].value.append)
            for tag, channel in _ELEMENTS.items()
        }

    def read_times(self) -> None:
        """Turn the time texts gathered so far into numbers."""
        microseconds, naive = parse_iso([text.strip() for text in self.time_texts])
        self.times.value.frombytes(to_seconds(microseconds).tobytes())
        self.without_zone += naive
        self.time_texts.clear()


def read_gpx(source: Source) -> RawFixes:
    """Read every track point of a GPX file, in file order.

    Speed (m/s) and course (degrees) are taken bare, as in GPX 1.0, or from ``extensions`` in any
    namespace. A file that breaks off is read up to the break, and a note says so.

    Raises:
        LogError: a DOCTYPE, a root that is not ``gpx``, a tag too long to be one, no track points.
    """
    points = _Points()
    guesses = {}
    encoding = None
    if _is_mistaken_for_utf8(source.head):
        encoding = "iso-8859-1"
        guesses["encoding"] = "latin-1, because it is not the UTF-8 that it should be"
    fault = _parse(source, points, encoding)
    points.read_times()
    if not points.lat:
        raise _no_points(source, points, fault)
    notes = source.notes()
    if fault:
        notes = (f"the XML is broken ({fault}); what came before was used", *notes)
    if points.without_zone:
        guesses["time zone"] = "none given, taken as UTC"
    count = len(points.lat)
    channels = {name: c.full(count) for name, c in points.columns.items() if len(c.value)}
    return RawFixes(
        time_s=points.times.full(count),
        lat_deg=np.frombuffer(points.lat),
        lon_deg=np.frombuffer(points.lon),
        channels=channels,
        void=channels["fix_quality"] == 0 if "fix_quality" in channels else None,
        guesses=guesses,
        notes=notes,
    )


def _is_mistaken_for_utf8(head: bytes) -> bool:
    """Whether a file that says UTF-8, or nothing, has letters that are not: the name of a track."""
    said = _ENCODING.search(head[:200])
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return False
    if said and said[1].lower() not in (b"utf-8", b"utf8"):
        return False
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return True
    return False


def _parse(source: Source, points: _Points, encoding: str | None) -> str:
    """Feed the file to expat; returns where and how the XML breaks, or nothing."""
    parser = expat.ParserCreate(encoding)
    parser.buffer_text = True
    start, parser.EndElementHandler = _handlers(points)
    parser.CharacterDataHandler = points.texts.append
    _guard(parser, start)
    fed = 0
    try:
        while chunk := source.stream.read(_CHUNK_BYTES):
            parser.Parse(chunk)
            fed += len(chunk)
            del points.texts[_PIECES_KEPT:]
            if len(points.time_texts) > _TIMES_AT_ONCE:
                points.read_times()
            if fed - parser.CurrentByteIndex > _TAG_BYTES:
                raise _RefusedError(f"a tag is longer than {_TAG_BYTES // 1024**2} MB")
        parser.Parse(b"", True)
    except _RefusedError as refusal:
        raise LogError(
            str(refusal),
            where=f"{source.name} line {parser.CurrentLineNumber}",
            remedy="Export the log as plain GPX",
        ) from refusal
    except expat.ExpatError as error:
        return f"line {error.lineno}: {expat.ErrorString(error.code)}"
    except (LookupError, ValueError) as error:
        return f"line {parser.CurrentLineNumber}: {safe_name(error)}"
    return ""


def _handlers(points: _Points) -> tuple[Start, End]:
    """Handlers of opening and closing tags; closures over bound methods, for speed."""
    texts, lat, lon = points.texts, points.lat, points.lon
    add_time_text, add_timed_point = points.time_texts.append, points.times.point.append
    tags, adders = _Tags(), points.adders()
    tag_of, adders_of = tags.get, adders.get
    number, inside, in_extensions = -1, False, False

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal inside, in_extensions, number
        texts.clear()
        tag = tag_of(name) or tags.learn(name)
        if tag == "trkpt":
            number += 1
            try:
                place = float(attributes["lat"]), float(attributes["lon"])
            except (KeyError, ValueError):
                place = math.nan, math.nan
            lat.append(place[0])
            lon.append(place[1])
            inside, in_extensions = True, False
        elif tag == "extensions":
            in_extensions = True
        elif tag in _OTHER_POINTS:
            points.others[tag] = points.others.get(tag, 0) + 1

    def end(name: str) -> None:
        nonlocal inside, in_extensions
        if not inside:
            return
        tag = tag_of(name)
        if in_extensions and tag in _BARE:
            return
        if add := adders_of(tag):
            add_point, add_value = add
            add_point(number)
            try:
                add_value(float(texts[0] if len(texts) == 1 else "".join(texts)))
            except ValueError:
                add_value(_word_value(tag, "".join(texts)))
        elif tag == "time":
            add_timed_point(number)
            add_time_text("".join(texts))
        elif tag == "trkpt":
            inside = False
        elif tag == "extensions":
            in_extensions = False

    return start, end


def _word_value(tag: str, text: str) -> float:
    """A text that is no number: a kind of fix, or nothing."""
    return _FIX_WORDS.get(text.strip().lower(), math.nan) if tag == "fix" else math.nan


def _guard(parser: expat.XMLParserType, start: Start) -> None:
    """Refuse a DOCTYPE, and a root other than ``gpx``; then leave the elements to ``start``."""

    def root(name: str, attributes: dict[str, str]) -> None:
        if name.rpartition(":")[2].lower() != "gpx":
            raise _RefusedError(f"the root element is <{safe_name(name[:40])}>, not <gpx>")
        parser.StartElementHandler = start

    def doctype(*_: Any) -> None:
        raise _RefusedError("it has a DOCTYPE, which no log needs and attacks use")

    parser.StartElementHandler = root
    parser.StartDoctypeDeclHandler = doctype


class _Tags(dict[str, str]):
    """Element name as written → its local name in lower case when it is one of ours, else "-"."""

    def learn(self, name: str) -> str:
        """Add a name that is not yet known."""
        if len(self) > _NAMES_KEPT:
            self.clear()
        local = name.rpartition(":")[2].lower()
        tag = self[name] = local if local in _TAGS else "-"
        return tag


def _no_points(source: Source, points: _Points, fault: str) -> LogError:
    """The right reason for a file without a single track point."""
    if fault:
        return LogError(
            f"the XML is broken before the first track point ({fault})",
            where=source.name,
            remedy="Copy it from the logger again",
        )
    others = " and ".join(f"{n} {_OTHER_POINTS[tag]}" for tag, n in points.others.items())
    return LogError(
        f"it holds {others}, but no track points" if others else "it holds no track points",
        where=source.name,
        remedy="Export the recorded track, not a route or a list of waypoints",
    )
