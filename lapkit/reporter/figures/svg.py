"""A figure as SVG to put into a page: real text, ids of its own, a title and a description."""

from __future__ import annotations

import io
import re
import warnings

import matplotlib as mpl
from markupsafe import Markup, escape
from matplotlib.figure import Figure

from lapkit.reporter.display import plain

CLASSES = ("laps", "spoken", "spread", "here")
"""Names in a drawing that become classes in the SVG, for stylesheet and script; ``spoken`` is the thick lap."""

_ID = re.compile(r' id="([^"]*)"')
_METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.DOTALL)
_DEFS = re.compile(r"\s*<defs>.*?</defs>", re.DOTALL)
_EMPTY = re.compile(r"\s*<g>\s*</g>|\s*<!--.*?-->|(?<=[>\"])\s*\n\s*", re.DOTALL)
_FONT = re.compile(r"font: ((?:italic |normal |bold |[0-9]+ )*)([0-9.]+)px[^;\"]*")
_FAMILY = re.compile(r"font-family: [^;\"]*;? ?")
_UNTURNED = re.compile(r' transform="rotate\(-?0 [^"]*"')
_COORDINATES = re.compile(r' (?:d|x|y)="[^"]*"')
_DECIMALS = re.compile(r"(?<=\.\d)\d+")
_STANDALONE = (
    'xmlns="http://www.w3.org/2000/svg" style="background:#fff" '
    "font-family=\"system-ui, 'DejaVu Sans', sans-serif\" "
    'stroke-linejoin="round" stroke-linecap="round"'
)


def svg_of(figure: Figure, prefix: str, title: str, description: str) -> Markup:
    """The figure as an ``svg`` element.

    Args:
        figure: what to draw.
        prefix: put before every id, so that no two pictures of a page share one.
        title: short name of the picture.
        description: what it shows, for those who cannot see it.
    """
    width, height = 72.0 * figure.get_size_inches()
    # The description stands under the picture as well: in its name it would be heard twice.
    head = (
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" role="img" aria-labelledby="{prefix}title">'
    )
    words = (
        f'<title id="{prefix}title">{escape(plain(title))}</title>'
        f'<desc id="{prefix}desc">{escape(plain(description))}</desc>'
    )
    return Markup(head + words + _body(figure) + "</svg>")


def standalone(svg: str) -> str:
    """The same picture as a file of its own."""
    # As a plain text: safe markup would escape what is put in.
    return str(svg).replace("<svg ", f"<svg {_STANDALONE} ", 1) + "\n"


def _body(figure: Figure) -> str:
    """What matplotlib draws, without what a page has once for all or does not need."""
    out = io.StringIO()
    with (
        mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "lapkit"}),
        warnings.catch_warnings(),
    ):
        # A name may hold letters that the measuring font lacks; the reader's own fonts show them.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figure.savefig(
            out, format="svg", metadata={"Date": None, "Creator": None}, transparent=True
        )
    text = out.getvalue()
    text = text[text.index(">", text.index("<svg")) + 1 : text.rindex("</svg>")]
    text = _DEFS.sub("", _METADATA.sub("", text))
    text = _ID.sub(lambda m: f' class="{m[1]}"' if m[1] in CLASSES else "", text)
    text = _UNTURNED.sub("", _FAMILY.sub("", _FONT.sub(lambda m: _font(m[1], m[2]), text)))
    text = text.replace("stroke-dashoffset: 0; ", "").replace("; stroke-linecap: round", "")
    return _EMPTY.sub("", _COORDINATES.sub(lambda m: _short(m[0]), text))


def _short(coordinates: str) -> str:
    """Coordinates to a tenth of a point, except those of turns and letters, and without repeated commands to draw a line."""
    return _DECIMALS.sub("", coordinates.replace(" \nL ", " "))


def _font(look: str, size: str) -> str:
    words = look.split()
    parts = [f"font-size:{float(size):g}px"]
    if "bold" in words or "700" in words:
        parts.append("font-weight:700")
    if "italic" in words:
        parts.append("font-style:italic")
    return ";".join(parts)
