"""What all pages share: templates with autoescape, the stylesheet, and the cautions."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader
from markupsafe import Markup

_TEMPLATES = Path(__file__).parent / "templates"

CAUTIONS = (
    "Radius and lean are inferred from satellite fixes, not measured.",
    "The lean is the balance lean, not the angle of the chassis; hanging off and tyre width change that angle.",
    "Grip figures say what cornering asked for, never what the tyre has left.",
    "Nothing here is a target. Being off the line is what to mind, not being slow.",
    "The event’s rules, the marshals, licensed instructors and the rider’s own judgement come first.",
)
"""Carried by every page."""


@lru_cache(maxsize=1)
def _environment() -> Environment:
    loader = FileSystemLoader(_TEMPLATES)
    return Environment(loader=loader, autoescape=True, trim_blocks=True, lstrip_blocks=True)


def render(template: str, **context: Any) -> str:
    """A whole page from a template and what it is to show."""
    css = Markup((_TEMPLATES / "page.css").read_text(encoding="utf-8"))
    return _environment().get_template(template).render(css=css, cautions=CAUTIONS, **context)
