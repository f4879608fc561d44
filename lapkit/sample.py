"""The bundled invented event: inside the installed package, or beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

from lapkit.errors import EventError


def sample_event() -> Path:
    """The folder of the bundled event.

    Raises:
        EventError: the installation lacks it.
    """
    here = Path(__file__).resolve().parent
    for folder in (here / "sample_event", here.parent / "sample_data"):
        if (folder / "riders.csv").is_file():
            return folder
    raise EventError("the bundled event is missing", remedy="Install lapkit again.")
