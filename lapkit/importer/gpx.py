"""GPX 1.0, 1.1 and unversioned: track points → raw fixes, as a stream and without entities."""

from __future__ import annotations

import codecs
import re
from typing import Any
from xml.parsers import expat

import numpy as np

from lapkit.counting import counted, listed
from lapkit.errors import LogError
from lapkit.importer.fixes import RawFixes
from lapkit.importer.gpx_points import OTHER_POINTS, Points, RefusedError, Start, handlers_for
from lapkit.importer.gpx_runs import RunReader
from lapkit.importer.source import Source, safe_name, used_up_to

_ENCODING = re.compile(rb"""<\?xml[^>]*encoding=["']([^"']*)["']""")
_CHUNK_BYTES = 256 * 1024  # read at once: some thousand fixes
_TAG_BYTES = 8 * 1024**2  # the parser holds a whole tag in memory
_TIMES_AT_ONCE = 8_192  # more are not kept as texts, which take many times the room of numbers
_PIECES_KEPT = 64  # of the text between two tags; no value of a point comes in more


def read_gpx(source: Source) -> RawFixes:
    """Read every track point of a GPX file, in file order.

    Speed (m/s) and course (degrees) are taken bare, as in GPX 1.0, or from ``extensions`` in any
    namespace. A file that breaks off is read up to the break, and a note says so.

    Raises:
        LogError: a DOCTYPE, a root that is not ``gpx``, a tag too long to be one, elements nested too deeply,
            no track points.
    """
    guesses = {}
    encoding = None  # as the file says
    if _is_mistaken_for_utf8(source):
        encoding = "iso-8859-1"
        guesses["encoding"] = "latin-1, because it is not the UTF-8 that it should be"
    points, fault = _read_points(source, encoding)
    points.read_times()
    if not points.lat:
        raise _no_points(source, points, fault)
    notes = source.notes()
    if fault:
        notes = (used_up_to(f"the XML is broken ({fault})"), *notes)
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
        breaks_off=bool(fault) or source.breaks_off,
    )


def _is_mistaken_for_utf8(source: Source) -> bool:
    """Whether a file calls itself UTF-8, or gives no encoding, and yet has letters that are not UTF-8."""
    if source.head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return False
    declared = _ENCODING.search(source.head[:200])
    if declared and declared[1].lower() not in (b"utf-8", b"utf8"):
        return False
    return not source.head_is_utf8


def _read_points(source: Source, encoding: str | None) -> tuple[Points, str]:
    """The points, and where and how the XML breaks; "" where it is sound.

    Raises:
        LogError: a handler refuses the file.
    """
    points = Points()
    try:
        if not _parse(source, points, _parser(points, encoding), RunReader(points)):
            return points, ""
    except RefusedError:
        pass
    # The line of a fault is known only to a parser that has seen every byte of the file.
    source.stream.rewind()
    points = Points()
    parser = _parser(points, encoding)
    try:
        return points, _parse(source, points, parser, None)
    except RefusedError as refusal:
        raise LogError(
            str(refusal),
            where=f"{source.name} line {parser.CurrentLineNumber}",
            remedy="Export the log as plain GPX",
        ) from refusal


def _parser(points: Points, encoding: str | None) -> expat.XMLParserType:
    parser = expat.ParserCreate(encoding)
    parser.buffer_text = True
    start, parser.EndElementHandler = handlers_for(points)
    parser.CharacterDataHandler = points.texts.append
    _guard(parser, start)
    return parser


def _parse(
    source: Source, points: Points, parser: expat.XMLParserType, runs: RunReader | None
) -> str:
    """Feed the file to the parser, except runs of points that ``runs`` reads itself.

    Returns:
        Where and how the XML breaks; "" where it is sound.
    """
    fed = 0
    try:
        while chunk := source.stream.read(_CHUNK_BYTES):
            for piece in runs.pieces(chunk) if runs else (chunk,):
                parser.Parse(piece)
                fed += len(piece)
                del points.texts[_PIECES_KEPT:]
            if len(points.time_texts) > _TIMES_AT_ONCE:
                points.read_times()
            if fed - parser.CurrentByteIndex > _TAG_BYTES:
                raise RefusedError(f"a tag is longer than {_TAG_BYTES // 1024**2} MB")
        parser.Parse(runs.rest() if runs else b"", True)
    except expat.ExpatError as error:
        return f"line {error.lineno}: {expat.ErrorString(error.code)}"
    except (LookupError, ValueError) as error:
        return f"line {parser.CurrentLineNumber}: {safe_name(error)}"
    return ""


def _guard(parser: expat.XMLParserType, start: Start) -> None:
    """Refuse a DOCTYPE, and a root other than ``gpx``; then leave the elements to ``start``."""

    def root(name: str, attributes: dict[str, str]) -> None:
        if name.rpartition(":")[2].lower() != "gpx":
            raise RefusedError(f"the root element is <{safe_name(name[:40])}>, not <gpx>")
        parser.StartElementHandler = start

    def doctype(*_: Any) -> None:
        raise RefusedError("it has a DOCTYPE, which no log needs and attacks use")

    parser.StartElementHandler = root
    parser.StartDoctypeDeclHandler = doctype


def _no_points(source: Source, points: Points, fault: str) -> LogError:
    """The right reason for a file without a single track point."""
    if fault:
        return LogError(
            f"the XML is broken before the first track point ({fault})",
            where=source.name,
            remedy="Copy it from the logger again",
        )
    others = listed([counted(n, OTHER_POINTS[tag]) for tag, n in points.others.items()])
    return LogError(
        f"it holds {others}, but no track points" if others else "it holds no track points",
        where=source.name,
        remedy="Export the recorded track, not a route or a list of waypoints",
    )
