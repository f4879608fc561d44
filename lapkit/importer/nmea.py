"""NMEA 0183 (RMC, GGA, VTG, GNS; any talker) → raw fixes.

Binary data between the sentences are passed over. Sentences with the same time of day make one fix together.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

import numpy as np

from lapkit.arrays import IntArray
from lapkit.importer.fixes import RawFixes
from lapkit.importer.log import Dropped
from lapkit.importer.nmea_epochs import NO_DAY, Epochs, read_day
from lapkit.importer.source import Source
from lapkit.importer.times import DAY_US, midnights_passed

# The longest sentence of the standard has 82 characters; receivers go a little beyond. Its fields are printable
# except "$" and "*".
_SENTENCE = re.compile(
    rb"\$(?P<body>[A-Z][A-Z0-9](?P<kind>RMC|GGA|VTG|GNS),(?P<fields>[ -#%-)+-~]{0,120}))"
    rb"(?:\*(?P<sum>[0-9A-Fa-f]{2}))?"
)
_COMMENT = re.compile(rb"^#[^\n]*", re.MULTILINE)
_CHUNK_BYTES = 256 * 1024  # read at once: some thousand fixes
_TAIL_BYTES = 256  # longer than any sentence, which may lie across two chunks
_DATES_KEPT = 3  # of sentences with wrong checksums; more than two are of no use


def read_nmea(source: Source) -> RawFixes:
    """Read every epoch of an NMEA 0183 log, in file order.

    Sentences with a wrong checksum are left out and counted; when those of one type are wrong
    throughout, the other types still serve, and a note says so. The date of RMC is carried to
    epochs without one, across midnight.
    """
    epochs = Epochs()
    written = any(match["sum"] for match in _SENTENCE.finditer(source.head))
    checksums = _Checksums(written=written)
    for sentence in _sentences(source):
        if checksums.accept(sentence):
            epochs.add(sentence["kind"], sentence["fields"].split(b","))
    epochs.finish()
    day, guesses = _days(epochs, checksums)
    time_us = np.array(epochs.time_us, dtype=np.int64)
    has_clock = day is not None
    if day is None:
        day = midnights_passed(time_us / 1e6).astype(np.int64)
        guesses["date"] = "none in the file, so times count from the first fix"
    columns = {name: np.array(values) for name, values in epochs.columns.items()}
    return RawFixes(
        time_s=(day * DAY_US + time_us) / 1e6,
        lat_deg=columns.pop("lat"),
        lon_deg=columns.pop("lon"),
        channels=columns,
        void=np.array(epochs.void, dtype=bool),
        has_clock=has_clock,
        dropped=(
            *checksums.dropped(),
            *_counted("without a time", epochs.timeless),
            *_counted("that cannot be read", epochs.unreadable),
        ),
        guesses=guesses,
        notes=(*checksums.notes(), *source.notes()),
        breaks_off=source.breaks_off,
    )


def checksum(body: bytes) -> int:
    """Exclusive or of all bytes between ``$`` and ``*``, which are 128 at most.

    The bytes are folded as one integer, which is ten times as fast as a loop over them.
    """
    folded = int.from_bytes(body, "little")
    for bits in (512, 256, 128, 64, 32, 16, 8):
        folded ^= folded >> bits
    return folded & 0xFF


class _Checksums:
    """Checks the sums of sentences and keeps count of them by type of sentence.

    Attributes:
        written: false for very old receivers, which write no checksum at all. Where others do, a sentence
            without one was cut short.
        good, bad: how many sums of each type of sentence are right and wrong.
        cut: how many sentences were cut short.
        dates_of_bad: the first few dates in RMC sentences with a wrong sum, each once.
    """

    def __init__(self, *, written: bool) -> None:
        self.written = written
        self.good: Counter[str] = Counter()
        self.bad: Counter[str] = Counter()
        self.cut = 0
        self.dates_of_bad: list[bytes] = []

    def accept(self, sentence: re.Match[bytes]) -> bool:
        """Whether a sentence may be used; counts it."""
        if sentence["sum"] is None:
            self.cut += self.written
            return not self.written
        kind = sentence["kind"].decode()
        if checksum(sentence["body"]) == int(sentence["sum"], 16):
            self.good[kind] += 1
            return True
        self.bad[kind] += 1
        if kind == "RMC":
            self._keep_date(sentence["fields"].split(b","))
        return False

    def _keep_date(self, fields: list[bytes]) -> None:
        date = fields[8] if len(fields) > 8 else b""
        if date not in self.dates_of_bad and len(self.dates_of_bad) < _DATES_KEPT:
            self.dates_of_bad.append(date)

    def dropped(self) -> list[Dropped]:
        """What was left out, with counts."""
        wrong = [
            Dropped("with a wrong checksum", count, f"{kind} sentence")
            for kind, count in self.bad.items()
        ]
        return wrong + _counted("cut short", self.cut)

    def notes(self) -> list[str]:
        """Which types of sentence have no right checksum at all, and whether none was written."""
        notes = [
            f"every {kind} sentence has a wrong checksum, so none was used"
            for kind in self.bad
            if not self.good[kind]
        ]
        return notes if self.written else [*notes, "its sentences carry no checksums"]


def _counted(reason: str, count: int) -> list[Dropped]:
    return [Dropped(reason, count, "NMEA sentence")] if count else []


def _sentences(source: Source) -> Iterator[re.Match[bytes]]:
    rest = b""
    while chunk := source.stream.read(_CHUNK_BYTES):
        rest += chunk
        # Up to the last line end, or nearly all of it where binary has none for long.
        stop = rest.rfind(b"\n") + 1
        if not stop and len(rest) > _CHUNK_BYTES:
            stop = len(rest) - _TAIL_BYTES
        yield from _found(rest[:stop])
        rest = rest[stop:]
    yield from _found(rest)


def _found(text: bytes) -> Iterator[re.Match[bytes]]:
    return _SENTENCE.finditer(_COMMENT.sub(b"", text) if b"#" in text else text)


def _days(epochs: Epochs, checksums: _Checksums) -> tuple[IntArray | None, dict[str, str]]:
    """Days since 1970-01-01 of every epoch, ``(n,)``, or None where none has a date; and what was guessed.

    A date holds until the next one, counted on at midnight; before the first date days are counted back.
    """
    day = np.array(epochs.day, dtype=np.int64)
    passed = midnights_passed(np.array(epochs.time_us) / 1e6).astype(np.int64)
    dated = np.flatnonzero(day != NO_DAY)
    if len(dated):
        latest = np.searchsorted(dated, np.arange(len(day)), side="right") - 1
        dated_by = dated[np.maximum(latest, 0)]
        return (day - passed)[dated_by] + passed, {}
    # Two dates are a ride over midnight; where there are more, the dates are spoiled themselves.
    spoiled = [read_day(text) for text in checksums.dates_of_bad]
    if not checksums.good["RMC"] and 1 <= len(spoiled) <= 2 and NO_DAY not in spoiled:
        date = np.datetime64(min(spoiled), "D")
        return min(spoiled) + passed, {"date": f"{date}, from sentences with wrong checksums"}
    return None, {}
