"""The pages in a real browser: Chromium, headless, from file://, without a network."""

import json
from dataclasses import replace
from pathlib import Path
from urllib.parse import urldefrag, urljoin

import pytest

from lapkit.course import line_table
from lapkit.reporter.course_page import course_page
from lapkit.reporter.event_page import event_page
from lapkit.reporter.pages import write_pages
from lapkit.units import Units

WIDTHS = (360, 768, 1280)


def test_it_opens_without_an_error_and_without_a_request(browser, page, see):
    browser.get_log("performance"), browser.get_log("browser")
    see(browser, page)
    assert not browser.get_log("browser")
    messages = [json.loads(m["message"])["message"] for m in browser.get_log("performance")]
    asked = {
        m["params"]["request"]["url"]
        for m in messages
        if m["method"] == "Network.requestWillBeSent"
    }
    assert {urldefrag(a)[0] for a in asked if not a.startswith("data:")} <= {page.as_uri()}


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_scrolls_sideways_but_tables_in_their_boxes(browser, page, width, see):
    see(browser, page, width)
    browser.execute_script("document.querySelectorAll('details').forEach(d => d.open = true)")
    wide = browser.execute_script(
        "const e = document.scrollingElement; return [e.scrollWidth, e.clientWidth]"
    )
    assert wide[0] <= wide[1]


def test_no_two_headings_of_a_page_are_alike(browser, page, see):
    """Whoever goes from heading to heading hears why a corner stands first, and can tell that from its own section."""
    see(browser, page)
    heads = browser.execute_script(
        "return [...document.querySelectorAll('main h2')].map(h => h.textContent.replace(/\\s+/g, ' '))"
    )
    assert len(set(heads)) == len(heads) > 4
    assert page.stem == "event" or heads[0].startswith(
        ("Work on this first ", "Nothing stands out ")
    )


def _drawing_of(browser, page, see, **media):
    """The colours of a page's first drawing on a screen that asks for others, and the page's colour scheme."""
    features = [{"name": name.replace("_", "-"), "value": value} for name, value in media.items()]
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
    try:
        see(browser, page, 360)
        return browser.execute_script(
            "const of = e => getComputedStyle(e), svg = document.querySelector('figure svg');"
            "const text = of(svg.querySelector('text'));"
            "return [of(svg).backgroundColor, text.fill, text.stroke, of(document.documentElement).colorScheme]"
        )
    finally:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


def test_a_drawing_stays_black_on_white_in_a_screens_own_colours(browser, folder, see):
    drawn = _drawing_of(browser, folder / "rider-bo.html", see, forced_colors="active")
    assert drawn[:3] == ["rgb(255, 255, 255)", "rgb(0, 0, 0)", "rgb(255, 255, 255)"]


def test_a_phone_at_night_is_told_not_to_darken_the_page_by_itself(browser, folder, see):
    """It would darken all but the drawings' lines."""
    drawn = _drawing_of(browser, folder / "rider-bo.html", see, prefers_color_scheme="dark")
    assert drawn[3] == "light only"


def test_on_paper_the_map_ends_before_the_next_section(browser, folder, see):
    see(browser, folder / "event.html", 768)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        bottom, top = browser.execute_script(
            # Few words beside it leave it taller than they are.
            "document.querySelector('.course > div').remove();"
            "return [document.querySelector('.course .map').getBoundingClientRect().bottom,"
            "  document.getElementById('runs').getBoundingClientRect().top]"
        )
    finally:
        browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert bottom <= top


def test_every_link_resolves(browser, page, see):
    see(browser, page)
    for link in browser.execute_script(
        "return [...document.links].map(a => a.getAttribute('href'))"
    ):
        url, part = urldefrag(urljoin(page.as_uri(), link))
        target = Path(url.removeprefix("file://"))
        assert target.is_file(), link
        assert not part or f'id="{part}"' in target.read_text(encoding="utf-8"), link


@pytest.mark.parametrize("width", WIDTHS)
def test_the_way_to_all_cautions_is_seen(browser, folder, width, see):
    see(browser, folder / "rider-bo.html", width)
    assert browser.find_element("css selector", ".heed a[href='#cautions']").is_displayed()


def test_a_rider_is_reached_with_a_thumb(browser, folder, see):
    see(browser, folder / "event.html", 390)
    heights = browser.execute_script(
        "return [...document.querySelectorAll('.who a, .grid th a')].map("
        "a => a.getBoundingClientRect().height)"
    )
    # 24 CSS pixels: WCAG 2.2, success criterion 2.5.8.
    assert heights and min(heights) >= 24


@pytest.mark.parametrize("width", [360, 390])
def test_a_usual_name_is_not_torn_between_its_letters(browser, folder, see, width):
    see(browser, folder / "event.html", width)
    heights = browser.execute_script(
        "const a = document.querySelector('.grid th a');"
        "return ['Bo', 'Quentin', 'Florence'].map(name => { a.textContent = name;"
        " return a.getBoundingClientRect().height; })"
    )
    assert len(set(heights)) == 1


def test_an_accessibility_rule_set_finds_nothing_serious(browser, page, see):
    see(browser, page, 360)
    browser.execute_script("document.querySelectorAll('details').forEach(d => d.open = true)")
    rules = pytest.importorskip("axe_playwright_python", reason="axe-core is not installed")
    browser.execute_script((Path(rules.__file__).parent / "axe.min.js").read_text("utf-8"))
    found = browser.execute_async_script(
        "const done = arguments[0]; axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa', "
        "'best-practice'], rules: {'color-contrast-enhanced': {enabled: true}}}).then(r => done(r.violations))"
    )
    bad = [(v["id"], v["impact"], [n["html"][:90] for n in v["nodes"][:3]]) for v in found]
    assert not [b for b in bad if b[1] in ("serious", "critical")], bad
    assert not bad


def test_a_long_day_is_small_and_quickly_opened(browser, event, grow, tmp_path, see):
    """Eight corners, twenty laps: processor time of the page's own thread, for a phone four times as slow."""
    long = replace(event, riders=(grow["grown"](event.riders[1], 20),), unusable=())
    (name,) = write_pages(long, tmp_path)
    page = tmp_path / name
    assert page.stat().st_size <= 1_500_000
    browser.execute_cdp_cmd("Performance.enable", {"timeDomain": "threadTicks"})
    try:
        see(browser, page, 360)
        browser.execute_async_script("requestAnimationFrame(() => setTimeout(arguments[0]))")
        told = browser.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]
    finally:
        browser.execute_cdp_cmd("Performance.disable", {})
    busy = {m["name"]: m["value"] for m in told}["TaskDuration"]
    assert 0.0 < 4.0 * busy <= 2.0


def test_forty_riders_on_sixteen_corners_fit_a_screen(browser, crowded, tmp_path, see):
    page = tmp_path / "event.html"
    page.write_text(event_page(crowded, units=Units.METRIC, links={}), encoding="utf-8")
    assert page.stat().st_size <= 1_000_000
    see(browser, page, 1280)
    grid = (
        "const e = document.querySelector('#seams .scroll'); return [e.scrollWidth, e.clientWidth]"
    )
    wide, room = browser.execute_script(grid)
    assert wide <= room


@pytest.mark.parametrize("width", WIDTHS)
def test_every_text_is_sixteen_pixels_or_more(browser, page, width, see):
    """Words in pictures too, as large as they come out on that screen."""
    see(browser, page, width)
    browser.execute_script("document.querySelectorAll('details').forEach(d => d.open = true)")
    small = browser.execute_script(
        """
        const small = [];
        for (const e of document.querySelectorAll('body *')) {
          const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
          if (!own || e.closest('title, desc, script, style')) continue;
          const svg = e.closest('svg');
          const scale = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
          const size = parseFloat(getComputedStyle(e).fontSize) * scale;
          if (size < 15.99) small.push([e.textContent.slice(0, 30), size]);
        }
        return small;
        """
    )
    assert not small


@pytest.mark.parametrize("width", WIDTHS)
def test_a_corner_sheet_has_its_title_beside_its_sign_and_fits_the_screen(
    browser, event, tmp_path, width, see
):
    page = tmp_path / "sheets.html"
    table = line_table(event.course)
    page.write_text(course_page(event.course, table, "Ring", []), encoding="utf-8")
    see(browser, page, width)
    for title in browser.find_elements("css selector", ".sheet h2"):
        sign, name = (title.find_element("css selector", s).rect for s in ("svg", "span"))
        assert sign["x"] + sign["width"] <= name["x"]
        middles = [r["y"] + r["height"] / 2 for r in (sign, name)]
        assert middles[0] == pytest.approx(middles[1], abs=4)
    boxes = "[document.scrollingElement, ...document.querySelectorAll('.scroll')]"
    sideways = browser.execute_script(
        f"return {boxes}.filter(e => e.scrollWidth > e.clientWidth).map(e => e.ariaLabel)"
    )
    assert not sideways
    # A line's name takes two lines on a phone, not one for each of its words.
    tall = browser.execute_script(
        "return Math.max(...[...document.querySelectorAll('.tables tbody th')]"
        ".map(e => e.getBoundingClientRect().height))"
    )
    assert 0 < tall < 70
