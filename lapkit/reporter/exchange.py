"""Two folders that change places in one step, where the system can."""

from __future__ import annotations

import ctypes
import os
from pathlib import Path

# As in <fcntl.h> and <linux/fs.h>.
_AT_FDCWD = -100
_RENAME_EXCHANGE = 2


def exchange(one: Path, other: Path) -> bool:
    """Let two folders change places so that neither name is missing for a moment.

    Returns:
        Whether that was done; where the system or the drive cannot, nothing was.
    """
    rename = getattr(ctypes.CDLL(None), "renameat2", None) if os.name == "posix" else None
    if rename is None:
        return False
    names = os.fsencode(one), os.fsencode(other)
    return rename(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _RENAME_EXCHANGE) == 0
