"""The pages' tables in a real browser, on phones above all: what is seen of them, and what is read out."""

import pytest

WIDTHS = (360, 768, 1280)


def test_a_phone_shows_every_column_of_every_table_at_once(browser, page, see):
    """But for riders × corners, whose first column stays where it is."""
    see(browser, page, 390)
    browser.execute_script("document.querySelectorAll('details').forEach(d => d.open = true)")
    hidden = browser.execute_script(
        "return [...document.querySelectorAll('.scroll:not(:has(.grid))')]"
        ".filter(e => e.scrollWidth > e.clientWidth).map(e => e.getAttribute('aria-label'))"
    )
    assert not hidden


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize(
    "widest", ["at\u00a0it\u00a0±\u00a00.9", "0.6\u00a0±\u00a00.5 on the wrong side"]
)
def test_distances_from_three_cones_stand_side_by_side(browser, folder, width, widest, see):
    """Under every picture from above, with what a cell holds at most in each cone's column."""
    see(browser, folder / "rider-bo.html", width)
    seen, sideways = browser.execute_script(
        "document.querySelectorAll('details:not(.every)').forEach(d => d.open = true);"
        "const boxes = [...document.querySelectorAll('.scroll[aria-label^=\"How far from the cones\"]')];"
        "for (const row of boxes.flatMap(b => [...b.querySelectorAll('tbody tr')]))"
        "  for (const cell of [...row.cells].slice(2)) cell.textContent = arguments[0];"
        "return [boxes.length, boxes.filter(b => b.scrollWidth > b.clientWidth).map(b => b.ariaLabel)]",
        widest,
    )
    assert seen > 2 and not sideways


def test_a_small_phone_shows_a_wide_exit_s_radius_and_lean_at_once(browser, folder, see):
    see(browser, folder / "rider-bo.html", 360)
    seen, sideways = browser.execute_script(
        "document.querySelectorAll('details:not(.every)').forEach(d => d.open = true);"
        "for (const c of document.querySelectorAll('.bend td:not(.extra)'))"
        "  c.textContent = c.textContent.replace(/^\\d+\\s±\\s\\d+$/, '242\u00a0±\u00a011');"
        "const boxes = [...document.querySelectorAll('.bend .scroll')].filter(b => b.textContent.includes('242'));"
        "return [boxes.length, boxes.filter(b => b.scrollWidth > b.clientWidth).length]"
    )
    assert seen > 2 and not sideways


SEEN = (
    "return [...document.querySelectorAll('table.brief')].map(t => [...t.rows].map(r => "
    "[...r.cells].filter(c => c.offsetParent !== null && !c.matches(':empty')).length)[1])"
)
"""How many cells the first row of each table with columns that come first shows."""


def test_a_phone_shows_the_columns_that_come_first_and_every_one_when_asked(browser, page, see):
    see(browser, page, 1280)
    opened = "document.querySelectorAll('details{}').forEach(d => d.open = true)"
    browser.execute_script(opened.format(":not(.every)"))
    every = browser.execute_script(SEEN)
    see(browser, page, 390)
    browser.execute_script(opened.format(":not(.every)"))
    first = browser.execute_script(SEEN)
    assert len(first) > 2 and max(first) <= 6
    assert all(few < all_ for few, all_ in zip(first, every, strict=True))
    sideways = browser.execute_script(
        "return [...document.querySelectorAll('.scroll:has(.brief)')]"
        ".filter(e => e.scrollWidth > e.clientWidth).map(e => e.getAttribute('aria-label'))"
    )
    assert not sideways
    browser.execute_script(opened.format(".every"))
    assert browser.execute_script(SEEN) == every


def test_every_cell_is_named_by_its_row_and_its_column(browser, page, see):
    """For whoever hears a table: a row by its run and lap, or by its rider."""
    see(browser, page)
    unnamed, heads = browser.execute_script(
        "const rows = [...document.querySelectorAll('tbody tr')];"
        "return [rows.filter(r => !r.cells[0].matches('th[scope=row]')).length,"
        " [...new Set([...document.querySelectorAll('section.corner table')].map(t =>"
        "  [...t.rows[1].querySelectorAll('th[scope=row]')].map(h =>"
        "   t.rows[0].cells[h.cellIndex].textContent).join()))]]"
    )
    assert not unnamed
    assert heads == ([] if page.stem == "event" else ["Run,Lap"])
    assert browser.execute_script("return document.querySelectorAll('thead th[scope=col]').length")


def test_no_word_over_a_column_runs_into_the_next_one(browser, page, see):
    see(browser, page, 390)
    browser.execute_script(
        "document.querySelectorAll('details:not(.every)').forEach(d => d.open = true)"
    )
    into = browser.execute_script(
        "return [...document.querySelectorAll('thead th')].filter(e => e.scrollWidth > e.clientWidth + 1)"
        ".map(e => e.textContent)"
    )
    assert not into
