"""What a folder of results holds, so that results of something else do not take its place without a word.

A hidden file in the folder says it. Folders of an older lapkit have none, and are replaced as they always were.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from lapkit.counting import first_of
from lapkit.errors import OutputError

if TYPE_CHECKING:
    from lapkit.measuring.reviews import EventReview

HOLDS = ".lapkit-holds.json"
"""Hidden file with what a folder holds."""


class What(StrEnum):
    """Kinds of output folder."""

    RESULTS = "results"
    """Of an event, or of one rider's logs."""
    SHEETS = "corner sheets"
    RUNS = "exported runs"


@dataclass(frozen=True)
class Contents:
    """What is, or is to be, in an output folder.

    Attributes:
        what: which kind of folder it is.
        name: the event folder's, or the rider's whose logs were reviewed; empty for other kinds.
        riders: everybody whose logs were given, each once.
        logs: SHA-256 of each log that could be read.
    """

    what: What
    name: str = ""
    riders: tuple[str, ...] = ()
    logs: tuple[str, ...] = ()

    @classmethod
    def results(cls, name: str, riders: Iterable[str], logs: Iterable[str]) -> Contents:
        """Results of these riders and logs; a hash may be empty."""
        return cls(
            What.RESULTS,
            name,
            tuple(dict.fromkeys(riders)),
            tuple(dict.fromkeys(filter(None, logs))),
        )

    @classmethod
    def of(cls, event: EventReview) -> Contents:
        """Of an event or a review."""
        riders = [r.rider for r in event.riders] + [u.rider for u in event.unusable]
        return cls.results(event.title, riders, event.tables["logs"]["sha256"].astype(str))

    def may_replace(self, there: Contents) -> bool:
        """Whether what is there is this in an earlier state: then nothing is lost that anybody still wants.

        A log was mended or added, or a rider's name; but never one rider's results those of an event, nor those of one
        rider another's.
        """
        if self.what is not there.what or self.what is not What.RESULTS:
            return self.what is there.what
        again = self.name == there.name or not set(self.logs).isdisjoint(there.logs)
        if len(there.riders) > 1:
            return len(self.riders) > 1 and again
        return again or set(there.riders) <= set(self.riders)

    @property
    def words(self) -> str:
        """What it is, in a sentence that says that it is there."""
        if self.what is not What.RESULTS:
            return str(self.what)
        whose = "an event's results" if len(self.riders) > 1 else "the results of one rider"
        return f"{whose} ({first_of(list(self.riders))})"

    def write(self, folder: Path) -> None:
        """Write it into its folder."""
        (folder / HOLDS).write_text(json.dumps(asdict(self)), encoding="utf-8")


def read_contents(folder: Path) -> Contents | None:
    """What a folder says that it holds; None where it does not say, or not in a way that can be read."""
    try:
        told = json.loads((folder / HOLDS).read_text(encoding="utf-8"))
        names = {key: tuple(map(str, told[key])) for key in ("riders", "logs")}
        return Contents(What(told["what"]), str(told["name"]), **names)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def refuse_others(out: Path, contents: Contents) -> None:
    """Refuse to put something into a folder that holds something else.

    Raises:
        OutputError: it does; it was left as it is.
    """
    there = read_contents(out)
    if there is not None and not contents.may_replace(there):
        raise OutputError(
            f"the folder holds {there.words}, which would be lost; it was left as it is",
            where=str(out),
            remedy="Choose another --out folder, or delete this one first if nobody needs it any more.",
        )
