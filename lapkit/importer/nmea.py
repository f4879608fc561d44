"""NMEA 0183 (RMC, GGA, VTG, GNS; any talker) → raw fixes.

Binary between the sentences is passed over. Sentences of one epoch, which carry the same time of
day, make one fix together.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

import numpy as np

from lapkit.importer.fixes import RawFixes
from lapkit.importer.log import Dropped
from lapkit.importer.nmea_epochs import NO_DAY, Epochs, read_day
from lapkit.importer.source import Source
from lapkit.importer.times import DAY_US, midnights_passed
from lapkit.units import IntArray

# The longest sentence of the standard has 82 characters; receivers go a little beyond.
_SENTENCE = re.compile(
    rb"\$([A-Z][A-Z0-9](RMC|GGA|VTG|GNS),([ -#%-)+-~]{0,120}))(?:\*([0-9A-Fa-f]{2}))?"
)
_COMMENT = re.compile(rb"^#[^\n]*", re.MULTILINE)
_CHUNK_BYTES = 256 * 1024  # read at once: some thousand fixes
_TAIL_BYTES = 256  # longer than any sentence, which may lie across two chunks


def read_nmea(source: Source) -> RawFixes:
    """Read every epoch of an NMEA 0183 log, in file order.

    Sentences with a wrong checksum are left out and counted; when those of one type are wrong
    throughout, the other types still serve, and a note says so. The date of RMC is carried to
    epochs without one, across midnight.
    """
    epochs = Epochs()
    sums = _Sums(with_sums=any(match[4] for match in _SENTENCE.finditer(source.head)))
    for match in _sentences(source):
        if sums.right(match):
            epochs.add(match[2], match[3].split(b","))
    epochs.finish()
    day, guesses = _days(epochs, sums)
    time_us = np.array(epochs.time_us, dtype=np.int64)
    known = day is not None
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
        has_clock=known,
        dropped=(
            *sums.dropped(),
            *_counted("without a time", epochs.timeless),
            *_counted("that cannot be read", epochs.unreadable),
        ),
        guesses=guesses,
        notes=(*sums.notes(), *source.notes()),
        breaks_off=source.breaks_off,
    )


def checksum(body: bytes) -> int:
    """Exclusive or of all bytes between ``$`` and ``*``; at most 128 bytes.

    The bytes are folded as one integer, which is ten times as fast as a loop over them.
    """
    folded = int.from_bytes(body, "little")
    for bits in (512, 256, 128, 64, 32, 16, 8):
        folded ^= folded >> bits
    return folded & 0xFF


class _Sums:
    """Judges checksums and keeps count by type of sentence.

    ``with_sums`` is false for very old receivers, which write no checksum at all; else a missing
    one is the sign of a cut line.
    """

    def __init__(self, *, with_sums: bool) -> None:
        self.with_sums = with_sums
        self.good: Counter[str] = Counter()
        self.bad: Counter[str] = Counter()
        self.cut = 0
        self.dates_of_bad: list[bytes] = []

    def right(self, match: re.Match[bytes]) -> bool:
        """Whether a sentence may be used."""
        body, kind, fields, given = match.groups()
        if given is None:
            self.cut += self.with_sums
            return not self.with_sums
        if checksum(body) == int(given, 16):
            self.good[kind.decode()] += 1
            return True
        self.bad[kind.decode()] += 1
        if kind == b"RMC" and len(self.dates_of_bad) < 3:
            date = b"".join(fields.split(b",")[8:9])
            if date not in self.dates_of_bad:
                self.dates_of_bad.append(date)
        return False

    def dropped(self) -> list[Dropped]:
        """What was left out, with counts."""
        wrong = [
            Dropped("with a wrong checksum", n, f"{kind} sentence") for kind, n in self.bad.items()
        ]
        return wrong + _counted("cut short", self.cut)

    def notes(self) -> list[str]:
        """Types of which every single checksum is wrong; and that there are none at all."""
        notes = [
            f"every {kind} sentence has a wrong checksum, so none was used"
            for kind in self.bad
            if not self.good[kind]
        ]
        return notes if self.with_sums else [*notes, "its sentences carry no checksums"]


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


def _days(epochs: Epochs, sums: _Sums) -> tuple[IntArray | None, dict[str, str]]:
    """Days since 1970 of every epoch, nothing when none has a date; and what was guessed.

    A date holds until the next one, counted on at midnight; before the first it is counted back.
    """
    day = np.array(epochs.day, dtype=np.int64)
    passed = midnights_passed(np.array(epochs.time_us) / 1e6).astype(np.int64)
    dated = np.flatnonzero(day != NO_DAY)
    if len(dated):
        latest = np.searchsorted(dated, np.arange(len(day)), side="right") - 1
        source_row = dated[np.maximum(latest, 0)]
        return (day - passed)[source_row] + passed, {}
    guessed = [read_day(text) for text in sums.dates_of_bad]
    if not sums.good["RMC"] and 1 <= len(guessed) <= 2 and NO_DAY not in guessed:
        said = f"{np.datetime64(min(guessed), 'D')}, from sentences with wrong checksums"
        return min(guessed) + passed, {"date": said}
    return None, {}
