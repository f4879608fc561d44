"""Safe file names for riders, whatever they are called."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

# Letters that are no plain letter with a mark, which taking the marks off would leave out altogether.
_SPELT = str.maketrans(
    {"ł": "l", "đ": "d", "ð": "d", "ø": "o", "æ": "ae", "œ": "oe", "þ": "th", "ħ": "h", "ı": "i"}
)
_LONGEST = 60  # characters: file systems take 255 bytes, with the rest of the name


def slug(name: str, otherwise: str = "rider") -> str:
    """Letters, digits and hyphens of a name, in lower case; ``otherwise`` when nothing is left."""
    spelt = name.casefold().translate(_SPELT)
    plain = unicodedata.normalize("NFKD", spelt).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_LONGEST].strip("-") or otherwise


def distinct_slugs(names: Iterable[str]) -> dict[str, str]:
    """A slug for each name, numbered where two would be the same."""
    taken: dict[str, str] = {}
    used: set[str] = set()
    for name in names:
        base = slug(name)
        candidate, number = base, 2
        while candidate in used:
            candidate, number = f"{base}-{number}", number + 1
        used.add(candidate)
        taken[name] = candidate
    return taken
