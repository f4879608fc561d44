"""Where results came from: hashes of inputs and of the program, and keys made of them."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

_PACKAGE = Path(__file__).parents[1]
_MATTERS = ("numpy", "scipy", "pandas", "matplotlib", "jinja2")


def file_hash(path: Path) -> str:
    """SHA-256 of a file's bytes; empty when it cannot be read, or is a pipe or a device."""
    try:
        if not path.is_file():
            return ""
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def file_hashes(paths: Iterable[Path]) -> dict[Path, str]:
    """SHA-256 of each file; each is read once, several at a time."""
    distinct = list(dict.fromkeys(paths))
    with ThreadPoolExecutor(4) as pool:
        return dict(zip(distinct, pool.map(file_hash, distinct), strict=True))


@lru_cache(maxsize=1)
def program_hash() -> str:
    """A hash of the program: of its source and templates, and of the versions of the packages behind its numbers."""
    digest = hashlib.sha256()
    for path in sorted(_PACKAGE.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts:
            digest.update(path.relative_to(_PACKAGE).as_posix().encode() + b"\0")
            digest.update(path.read_bytes())
    for package in _MATTERS:
        try:
            digest.update(f"{package} {version(package)}\n".encode())
        except PackageNotFoundError:
            digest.update(f"{package}\n".encode())
    return digest.hexdigest()


def key_of(*parts: Any) -> str:
    """One key made of everything that something depends on; parts are what JSON can hold."""
    text = json.dumps(parts, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def distinct_names(paths: Sequence[Path], folder: Path | None) -> dict[Path, str]:
    """A name for each path: relative to ``folder`` if it lies in it, else as much of its end as is unique."""
    names = {}
    for path in dict.fromkeys(paths):
        if folder is not None and path.is_relative_to(folder):
            names[path] = path.relative_to(folder).as_posix()
        else:
            names[path] = path.name
    longest = max((len(path.parts) for path in names), default=1)
    for length in range(2, longest + 1):
        given = Counter(names.values())
        for path, name in names.items():
            if given[name] > 1:
                names[path] = Path(*path.parts[-length:]).as_posix()
    return names
