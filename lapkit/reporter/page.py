"""What all pages share: templates with autoescape, the stylesheet, the script, the policy, the cautions."""

from __future__ import annotations

import base64
import hashlib
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from lapkit.reporter.cautions import CAUTIONS
from lapkit.reporter.display import plain, unbroken

_TEMPLATES = Path(__file__).parent / "templates"
_LONGEST_TEXT = 1000  # characters: what is longer came from a file and is no name


def _text(value: Any) -> Any:
    """Everything a template puts out: what is not the page's own markup is made plain text first."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return plain(value, _LONGEST_TEXT)
    return value


@lru_cache(maxsize=1)
def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        finalize=_text,
    )
    made.filters["unbroken"] = unbroken
    return made


@lru_cache(maxsize=4)
def _asset(name: str) -> Markup:
    return Markup((_TEMPLATES / name).read_text(encoding="utf-8").strip())


def _styles() -> Markup:
    """The stylesheet: for a screen, then what is different on paper."""
    return Markup("\n").join([_asset("page.css"), _asset("paper.css")])


def policy(script: str) -> str:
    """A content security policy that forbids the network, and every script but this one."""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    allowed = f"'sha256-{digest}'" if script else "'none'"
    return (
        f"default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src {allowed}; "
        "base-uri 'none'; form-action 'none'"
    )


def data_block(data: Any) -> Markup:
    """Data for the script, so written that nothing in it can end the block."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c").replace("&", "\\u0026"))


def render(template: str, *, scripted: bool = False, **context: Any) -> str:
    """A whole page from a template and what it is to show.

    Args:
        template: name of the template's file.
        scripted: whether the page carries the script that lets a lap be picked.
        context: what the template shows.
    """
    script = _asset("page.js") if scripted else Markup("")
    return _environment().get_template(template).render(
        css=_styles(), script=script, policy=policy(str(script)), cautions=CAUTIONS, **context
    )  # fmt: skip
