"""The pages on paper, as Chromium prints them: full sheets, whole pictures, cautions on the first."""

import re
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest

from lapkit.course import line_table
from lapkit.reporter import write
from lapkit.reporter.cautions import CAUTIONS
from lapkit.reporter.course_page import course_page
from lapkit.reporter.event_page import event_page
from lapkit.units import Units

CHROMIUM = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)
if not (CHROMIUM and shutil.which("pdftotext") and shutil.which("pdftoppm")):
    pytest.skip("no Chromium or no poppler on this machine", allow_module_level=True)

PAPERS = ("A4", "letter")
MARGIN_MM = 12.0
QUIET = ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run")


@pytest.fixture(scope="module")
def folder(event, tmp_path_factory):
    out = tmp_path_factory.mktemp("pages") / "out"
    write(event, out)
    table = line_table(event.course)
    sheets = course_page(event.course, table, "Ring", [])
    (out / "sheets.html").write_text(sheets, encoding="utf-8")
    return out


@pytest.fixture(scope="module")
def printed(folder, tmp_path_factory):
    """A function from a page and a size of paper to its PDF."""
    kept, room = {}, tmp_path_factory.mktemp("paper")

    def pdf(name, paper, opened=False, cues=True):
        if (name, paper, opened, cues) not in kept:
            (page,) = [p for p in folder.glob("*.html") if name in p.stem or name == _other(p)]
            sized = room / f"{len(kept)}.html"
            whole = page.read_text("utf-8")
            sized.write_text(
                (whole if cues else re.sub('<ul class="cues".*?</ul>', "", whole))
                .replace("</head>", f"<style>@page {{ size: {paper} }}</style></head>")
                .replace("<details>", "<details open>" if opened else "<details>"),
                encoding="utf-8",
            )
            out = sized.with_suffix(".pdf")
            subprocess.run(
                [CHROMIUM, *QUIET, f"--user-data-dir={room / 'profile'}", "--no-pdf-header-footer",
                 f"--print-to-pdf={out}", sized.as_uri()],
                check=True, capture_output=True, timeout=120,
            )  # fmt: skip
            kept[name, paper, opened, cues] = out
        return kept[name, paper, opened, cues]

    return pdf


def _other(page):
    """The rider whose name makes no file name that one could write down here."""
    return "nasty" if page.stem.startswith("rider-") and page.stem != "rider-bo" else ""


def texts_of(pdf):
    """The words on each sheet."""
    told = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, check=True)
    return told.stdout.decode().split("\f")[:-1]


def filled(pdf):
    """How far down the room between the margins each sheet has something on it, 0 to 1."""
    stem = pdf.with_suffix("")
    subprocess.run(["pdftoppm", "-gray", "-r", "25.4", pdf, stem], check=True)
    shares = []
    for sheet in sorted(pdf.parent.glob(f"{stem.name}-*.pgm")):
        _, size, _, *_ = sheet.read_bytes().split(b"\n", 3)
        width, height = map(int, size.split())
        grey = np.frombuffer(sheet.read_bytes()[-width * height :], np.uint8)
        last = int(np.flatnonzero((grey.reshape(height, width) < 200).any(axis=1))[-1])
        shares.append((last - MARGIN_MM) / (height - 2.0 * MARGIN_MM))
    return shares


@pytest.mark.parametrize(
    ("name", "paper"),
    [(n, p) for n in ("rider-bo", "event", "sheets") for p in PAPERS] + [("nasty", "A4")],
)
def test_no_sheet_but_the_last_stands_a_third_empty(printed, name, paper):
    shares = filled(printed(name, paper))
    assert len(shares) > 1
    assert min(shares[:-1]) > 0.7, shares
    assert name != "sheets" or min(shares[1:]) > 0.95, shares


def test_a_line_that_nothing_more_is_to_be_told_has_no_sheet_of_its_own(printed, folder, event):
    nothing = event_page(replace(event, unusable=(), findings=()), units=Units.METRIC, links={})
    beside = '<section id="beside"'
    assert nothing.count(beside) == 1
    # What comes before it fills a sheet to its last centimetre.
    line = '<p style="height: 10mm; margin: 0">Said before.</p>'
    full = f'<section style="break-before: page; margin: 0; border: 0; padding: 0">{line * 27}</section>'
    (folder / "all-used.html").write_text(nothing.replace(beside, full + beside), encoding="utf-8")
    texts = texts_of(printed("all-used", "A4"))
    assert [text.count("Said before.") for text in texts[-2:]] == [26, 1]
    assert "Tables that were folded on the screen" in texts[-1]
    assert not any("Every log could be used" in text for text in texts)
    # Beside tables it is printed, and so are logs that could not be used.
    assert "Every log could be used" in "".join(texts_of(printed("all-used", "A4", opened=True)))
    assert "1 fix a second <b>" in "".join(texts_of(printed("event", "A4")))


def test_how_good_his_logs_are_is_on_a_riders_paper(printed, event):
    """His first screen points there where a log tells too little."""
    for rider, name in zip(event.riders, ("nasty", "rider-bo"), strict=True):
        text = " ".join("".join(texts_of(printed(name, "A4"))).split())
        told = text.split("How good the logs are")[1].split("How to read this page")[0]
        assert [f"Run {run.session}: " in told for run in rider.runs] == [True] * len(rider.runs)


@pytest.mark.parametrize("before_mm", [160, 180, 200])
def test_what_words_mean_is_not_torn_apart(printed, folder, before_mm):
    page = (folder / "rider-bo.html").read_text("utf-8")
    reading = '<section id="reading"'
    assert page.count(reading) == 1
    room = f'<div style="break-before: page; height: {before_mm}mm"></div>'
    (folder / f"{before_mm}-mm.html").write_text(page.replace(reading, room + reading), "utf-8")
    texts = texts_of(printed(f"{before_mm}-mm", "A4"))
    first, *_, last = re.findall("<dt>(.*?)</dt>", page)
    assert f"{first}: " in texts[-1] and f"{last}: " in texts[-1]


@pytest.mark.parametrize("name", ["rider-bo", "nasty", "event", "sheets"])
def test_the_cautions_are_on_paper_once_and_not_alone_on_a_sheet(printed, name):
    texts = [" ".join(text.split()) for text in texts_of(printed(name, "A4"))]
    for caution in CAUTIONS:
        assert [caution in text for text in texts].count(True) == 1
    assert CAUTIONS[0] in texts[0] + texts[1]
    assert not any("Before you use any of this" in text for text in texts)


def test_every_corner_of_the_course_has_a_sheet_of_its_own(printed, event):
    texts = texts_of(printed("sheets", "A4"))
    assert len(texts) == 1 + len(event.course.corners)
    for corner, text in zip(event.course.corners, texts[1:], strict=True):
        assert corner.name in text and "Steady speed" in text


@pytest.mark.parametrize("paper", PAPERS)
def test_a_corner_is_not_parted_from_its_pictures(printed, event, paper):
    corners = [c.name for c in event.course.corners]
    texts = texts_of(printed("rider-bo", paper))
    assert "Bo" in texts[0]
    assert "All cautions" not in texts[0]
    assert len(texts) <= 1 + len(corners) // 2
    seen = 0
    for text in texts:
        heads = [
            c for c in corners if re.search(rf"^ *{c}, (left|right)(?: |$)", text, re.MULTILINE)
        ]
        # Words in pictures are printed twice, the first time for the white about them.
        pictured = text.split().count("lower") / 2
        assert pictured == text.count("Your usual lap")
        assert pictured <= len(heads) <= pictured + 3 * (text is texts[0])
        seen += pictured
    assert seen == len(corners)
    # How to read them stands once, under the first.
    (first,) = [text for text in texts if "Pulled straight" in text]
    assert first.count("Pulled straight") == first.count("Black dashes: what") == 1
    assert corners[0] in first


def test_what_a_corner_is_does_not_run_into_what_is_said_of_it(printed):
    """They share a line where the coach left no cue between them."""
    text = " ".join("".join(texts_of(printed("rider-bo", "A4", cues=False))).split())
    assert "radius · Nothing stands out here." in text and "radiusNothing" not in text


@pytest.mark.parametrize("paper", PAPERS)
def test_opened_tables_go_on_over_sheets_and_part_no_picture_from_its_title(printed, event, paper):
    pdf = printed("rider-bo", paper, opened=True)
    texts = texts_of(pdf)
    assert min(filled(pdf)[:-1]) > 0.5
    tables = 0
    for text in texts:
        heads = re.findall(r"^ *([^,\n]+), (?:left|right)(?: |$)", text, re.MULTILINE)
        named = [c.name for c in event.course.corners if c.name in (h.strip() for h in heads)]
        here = text.count("How far from the cones, lap by lap")
        assert here == len(named) or text is texts[0]
        tables += here
        assert "Every column" not in text and "To the top" not in text
    assert tables == len(event.course.corners)
    # Every column is on paper, though a small screen shows some of them first.
    assert sum(text.count("slowest") for text in texts) >= len(event.course.corners)
