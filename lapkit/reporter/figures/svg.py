"""A figure as SVG to put into a page: real text, ids of its own, a title and a description."""

from __future__ import annotations

import io
import re

import matplotlib as mpl
from markupsafe import Markup, escape
from matplotlib.figure import Figure

_ID = re.compile(r'(\bid="|url\(#|href="#)')


def svg_of(figure: Figure, prefix: str, title: str, description: str) -> Markup:
    """The figure as an ``svg`` element.

    Args:
        figure: what to draw.
        prefix: put before every id, so that no two pictures of a page share one.
        title: short name of the picture.
        description: what it shows, for those who cannot see it.
    """
    out = io.StringIO()
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": prefix, "font.size": 11.0}):
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    text = out.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = _ID.sub(lambda m: m.group(1) + prefix, text)
    # Half a hundredth of a point is less than any printer shows.
    text = re.sub(r"(\d+\.\d{2})\d+", r"\1", text)
    head, rest = text.split(">", 1)
    head = re.sub(r'\s(width|height)="[^"]*"', "", head)
    label = f"{prefix}title"
    head += f' role="img" aria-labelledby="{label}"'
    inner = f'<title id="{label}">{escape(title)}</title><desc>{escape(description)}</desc>'
    return Markup(f"{head}>{inner}{rest}")
