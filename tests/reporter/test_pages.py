"""What holds for every page: sound, safe, readable."""

import base64
import hashlib
import html
import re
import warnings

import pytest

from lapkit.reporter.display import plain

html5lib = pytest.importorskip("html5lib")


@pytest.fixture(scope="module", params=["nasty", "summary", "found"])
def page(request):
    made = request.getfixturevalue(request.param)
    return getattr(made, "html", made)


def test_it_is_html_without_an_error(page):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        html5lib.HTMLParser(strict=True).parse(page)


def test_ids_are_unique_and_links_inside_the_page_resolve(page):
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    inside = re.findall(r'href="#([^"]+)"', page)
    assert inside
    assert set(inside) <= set(ids)
    for names in re.findall(r'aria-labelledby="([^"]+)"', page):
        assert set(names.split()) <= set(ids)


def test_nothing_is_asked_of_a_network(page):
    assert "default-src 'none'" in html.unescape(page)
    assert not re.search(r'(?:src|href)="(?!#|data:,|rider-)', page)
    assert "url(" not in page
    assert "@import" not in page


def test_the_policy_allows_this_script_and_no_other(nasty):
    scripts = re.findall(r"<script>(.*?)</script>", nasty.html, re.DOTALL)
    assert len(scripts) == 1
    digest = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in html.unescape(nasty.html)


def test_a_page_without_a_script_allows_none(summary):
    assert "<script" not in summary
    assert "script-src 'none'" in html.unescape(summary)


def test_text_from_files_is_text(event, page):
    text = "".join(html5lib.parse(page, namespaceHTMLElements=False).itertext())
    if event.title in text:
        assert plain(event.riders[0].rider) in text
    for element in ("b", "i", "img"):
        assert f"<{element}>" not in page
        assert f"<{element} " not in page
    assert "document.title='run'" not in page
    assert not re.search("[\x00-\x08\x0b-\x1f\u202a-\u202e]", page)


def test_every_picture_has_a_title_and_a_description(page):
    svg = re.findall(r"<svg [^>]*role=.*?</svg>", page, re.DOTALL)
    assert svg
    for one in svg:
        assert 'role="img"' in one
        assert re.search(r"<title id=[^>]+>[^<]+</title><desc id=[^>]+>[^<]+</desc>", one)
        assert "<text" in one


def test_directions_are_words(nasty):
    cells = re.findall(r"<td[^>]*>([^<]*)</td>", nasty.html)
    assert not [c for c in cells if c.startswith(("-", "−"))]
    assert any(c.endswith(" wide") for c in cells)
    assert any(c.endswith(" inside") for c in cells)


def test_every_size_of_text_is_sixteen_pixels_or_more(nasty):
    css = re.search(r"<style>(.*?)</style>", nasty.html, re.DOTALL)[1].split("@page")[0]
    sizes = [float(s) for s in re.findall(r"font(?:-size)?: *([0-9.]+)rem", css)]
    assert len(sizes) >= 6
    assert min(sizes) >= 1.0
    body = nasty.html.partition("</style>")[2]
    drawn = [float(s) for s in re.findall(r"font-size: ?([0-9.]+)px", body)]
    assert len(drawn) > 100
    assert set(drawn) == {16.0}


def luminance(color):
    channels = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_text_stands_out_seven_to_one(nasty):
    """Contrast as in WCAG 2.2, success criterion 1.4.6 (attribution from memory)."""
    css = re.search(r"<style>(.*?)</style>", nasty.html, re.DOTALL)[1]
    variables = dict(re.findall(r"--(\w+): (#\w+)", css))
    assert 1.05 / (luminance(variables["accent"]) + 0.05) >= 7.0
    colors = set(re.findall(r"(?<![-\w])color: ([^;}]+)", css))
    assert colors <= {"var(--ink)", "var(--accent)", "#fff", "inherit"}
