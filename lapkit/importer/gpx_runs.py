"""Track points written alike, read many at once.

Most of a GPX file is one point after the other, of the same elements in the same order. Runs of such points
are cut out of what the XML parser is given and read by a pattern made from the file's first point, in a sixth
of the time. Whatever is written otherwise goes to the parser, in its place.
"""

from __future__ import annotations

import re
from collections.abc import Generator, Iterator, Sequence

import numpy as np

from lapkit.importer.gpx_pattern import CLOSES, OPENS, Pattern, pattern_of
from lapkit.importer.gpx_points import Points

_BLANK = b" \t\r\n"
_ROOT_ENDS = re.compile(rb"</(?:[^<>]*:)?gpx\s*>", re.IGNORECASE)
# Within a comment, a CDATA section or an instruction nothing is a point, whatever it looks like. An XML
# declaration looks like an instruction, but hides nothing.
_HIDING = re.compile(rb"<(?:!|\?(?!xml\s))")
_LONGEST_POINT = 16 * 1024  # bytes; a point of a log has some hundred


class RunReader:
    """Takes runs of points out of a file on its way to the parser.

    In sound XML they are exactly the points that the parser would have found. In a broken file some may come
    from beyond the break. The parser reports the break in the end, and the file must then be read once more
    without a run reader.
    """

    def __init__(self, points: Points) -> None:
        """Add the points of runs to ``points``, to which the parser adds the others."""
        self._points = points
        self._pattern: Pattern | None = None
        self._gave_up = False  # from then on everything goes to the parser
        self._held = b""
        self._last = b">"  # what the parser was given last; a run is one only behind a whole tag

    def pieces(self, chunk: bytes) -> Iterator[bytes]:
        """What the parser is to be given of the next bytes.

        Each piece must be parsed before the next one is asked for: the points of a run that stands between
        two pieces are added in between.
        """
        data, self._held = self._held + chunk, b""
        self._gave_up |= _HIDING.search(data) is not None
        if self._gave_up:
            yield data
            return
        start = 0
        if self._pattern is None:
            start = yield from self._first_point(data)
        if self._pattern is not None:
            start = yield from self._between_runs(data, start, self._pattern)
        rest = self._without_unfinished(data[start:])
        self._last = rest.strip(_BLANK)[-1:] or self._last
        yield rest

    def rest(self) -> bytes:
        """What was held back at the end of the file."""
        return self._held

    def _first_point(self, data: bytes) -> Generator[bytes, None, int]:
        """Yield all up to the end of the first point and learn from it; returns where the rest begins."""
        opens = data.find(OPENS)
        closes = data.find(CLOSES, opens)
        if opens < 0 or closes < 0:
            return 0
        stop = closes + len(CLOSES)
        yield data[:stop]
        # Only a point that the parser has really read is one to learn from.
        self._pattern = pattern_of(data[opens:stop]) if len(self._points.lat) else None
        self._gave_up = self._pattern is None
        return stop

    def _between_runs(
        self, data: bytes, start: int, pattern: Pattern
    ) -> Generator[bytes, None, int]:
        """Yield what stands before each run and add its points; returns where the rest begins."""
        run = pattern.single_run(data, start) or pattern.next_run(data, start)
        while run:
            before = data[start : run.start]
            yield before
            behind_whole_tag = (before.strip(_BLANK) or self._last).endswith(b">")
            is_run = behind_whole_tag and not _ROOT_ENDS.search(before)
            if not is_run or not self._add(pattern, run.values):
                self._gave_up = True
                return run.start
            start, self._last = run.stop, b">"
            run = pattern.next_run(data, start)
        return start

    def _without_unfinished(self, data: bytes) -> bytes:
        """The same without a point at the end that is not whole yet, and without what may become a comment."""
        if self._gave_up:
            return data
        begun = data.rfind(OPENS)
        if begun < 0 or CLOSES in data[begun:] or len(data) - begun > _LONGEST_POINT:
            begun = len(data) - data.endswith(b"<")
        self._held = data[begun:]
        return data[:begun]

    def _add(self, pattern: Pattern, values: Sequence[Sequence[bytes]]) -> bool:
        """Add the points of a run, all or none; whether all their values are numbers."""
        try:
            lat, lon = _numbers(values[pattern.lat]), _numbers(values[pattern.lon])
            channels = [(name, _numbers(values[i])) for name, i in pattern.channels]
        except ValueError:
            return False
        points = self._points
        first = len(points.lat)
        points.lat.frombytes(lat)
        points.lon.frombytes(lon)
        which = np.arange(first, len(points.lat), dtype=np.int64).tobytes()
        for name, of_channel in channels:
            points.columns[name].point.frombytes(which)
            points.columns[name].value.frombytes(of_channel)
        if pattern.time is not None:
            points.times.point.frombytes(which)
            points.time_texts += b"\n".join(values[pattern.time]).decode("ascii").split("\n")
        return True


def _numbers(texts: Sequence[bytes]) -> bytes:
    """Texts as the bytes of numbers; numpy reads them as ``float`` does, but a quarter faster."""
    return np.array(texts, dtype=np.float64).tobytes()
