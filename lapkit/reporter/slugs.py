"""Safe file names for riders, whatever they are called."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

_LONGEST = 60  # characters: file systems take 255 bytes, with the rest of the name


def slug(name: str, otherwise: str = "rider") -> str:
    """Letters, digits and hyphens of a name, in lower case; ``otherwise`` when nothing is left."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
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
