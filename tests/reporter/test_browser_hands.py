"""The pages in a real browser, used: by keyboard, by thumb, lap after lap."""

import re

import pytest

from lapkit.reporter.display import plain


def test_a_hostile_name_is_shown_and_does_not_run(browser, event, folder, see):
    page = next(p for p in folder.glob("rider-*.html") if p.stem != "rider-bo")
    see(browser, page)
    assert browser.title != "run"
    assert browser.find_element("tag name", "h1").text == plain(event.riders[0].rider).strip()


def test_the_keyboard_reaches_everything(browser, page, see):
    see(browser, page)
    wanted = browser.execute_script(
        "return [...document.querySelectorAll('a[href], summary, select, input, [tabindex]')]"
        ".filter(e => e.checkVisibility({contentVisibilityAuto: false})).map((e, i) => (e.dataset.n = i))"
    )
    assert len(wanted) > 20
    reached = set()
    for _ in range(len(wanted) + 3):
        browser.switch_to.active_element.send_keys("\ue004")
        reached.add(browser.execute_script("return document.activeElement.dataset.n"))
    assert {str(n) for n in wanted} <= reached


def test_a_lap_can_be_picked_and_read_along_the_corner(browser, folder, see):
    see(browser, folder / "rider-bo.html", 360)
    corner = browser.find_element("css selector", "#corner-2")
    browser.execute_script("arguments[0].scrollIntoView()", corner)
    lap = corner.find_element("css selector", ".reader select")
    lap.find_elements("tag name", "option")[-1].click()
    place = corner.find_element("css selector", ".reader input")
    for _ in range(9):
        place.send_keys("\ue014")
    said = corner.find_element("css selector", ".reader output").text
    assert re.fullmatch(
        r"\d+ m (before|after) turn-in: (radius \d+ m|nearly straight), .* of? ?the marker line\.",
        said,
    )
    assert "km/h" in said
    assert place.get_attribute("aria-valuetext") == said  # else one hears the number of a step
    assert len(corner.find_elements("css selector", "svg .place")) == 3
    assert corner.find_elements("css selector", "svg .chosen")


def test_a_tap_on_a_line_picks_its_lap(browser, folder, see):
    see(browser, folder / "rider-bo.html", 768)
    picked = browser.execute_script(
        """
        const svg = document.querySelector('#corner-2 .bend svg'), path = svg.querySelectorAll('.laps path')[1];
        svg.scrollIntoView({block: 'center'});
        const p = path.getPointAtLength(path.getTotalLength() / 2), m = svg.getScreenCTM();
        const at = {clientX: p.x * m.a + m.e, clientY: p.y * m.d + m.f, bubbles: true};
        svg.dispatchEvent(new MouseEvent('click', at));
        return document.querySelector('#corner-2 .reader select').value;
        """
    )
    assert picked in {"0", "1", "2"}


def test_it_works_without_its_script(browser, folder, see):
    see(browser, folder / "rider-bo.html")
    with_script = browser.execute_script("return document.querySelectorAll('.reader').length")
    browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        see(browser, folder / "rider-bo.html")
        assert with_script == 8
        assert not browser.find_elements("css selector", ".reader")
        summary = browser.find_element("css selector", "#corner-1 summary")
        summary.click()
        assert browser.find_element("css selector", "#corner-1 td").is_displayed()
    finally:
        browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


@pytest.mark.parametrize("width", [360, 390, 430])
def test_the_lap_that_is_read_is_named_whole(browser, folder, width, see):
    see(browser, folder / "rider-bo.html", width)
    select = browser.find_element("css selector", ".reader select")
    whole = browser.execute_script(
        "const own = arguments[0], free = own.cloneNode(true), width = own.getBoundingClientRect().width;"
        "free.style.flex = free.style.minWidth = 'none'; free.style.width = 'max-content';"
        "free.style.position = 'absolute'; own.parentNode.append(free);"
        "const needed = free.getBoundingClientRect().width; free.remove(); return [width, needed]",
        select,
    )
    assert whole[0] >= whole[1] > 0


def test_the_reader_goes_away_when_done(browser, folder, see):
    see(browser, folder / "rider-bo.html", 360)
    corner = browser.find_element("css selector", "#corner-2")
    browser.execute_script("arguments[0].scrollIntoView()", corner)
    lap = corner.find_element("css selector", ".reader select")
    done = corner.find_element("css selector", ".reader button")
    assert not done.is_displayed()
    lap.find_elements("tag name", "option")[-1].click()
    assert corner.find_elements("css selector", "svg .place")
    done.click()
    assert not done.is_displayed()
    hint = corner.find_element("css selector", ".reader output").text
    assert hint.startswith("Tap a lap or choose one")
    assert (
        corner.find_element("css selector", ".reader input").get_attribute("aria-valuetext") == hint
    )
    assert not corner.find_elements("css selector", "svg .place, svg .chosen")


def test_what_the_keyboard_reaches_is_not_hidden_by_the_reader(browser, folder, see):
    """WCAG 2.2, success criterion 2.4.11: the reader stays at the foot of the screen while a lap is read."""
    see(browser, folder / "rider-bo.html", 360)
    corner = browser.find_element("css selector", "#corner-2")
    browser.execute_script("arguments[0].scrollIntoView()", corner)
    corner.find_elements("css selector", ".reader option")[-1].click()
    reached, reader = browser.execute_script(
        "const own = arguments[0], last = [...own.querySelectorAll('figure > details > summary')].pop();"
        "scrollBy(0, last.getBoundingClientRect().bottom - innerHeight + 30); last.focus();"
        "return [last.getBoundingClientRect().bottom, own.querySelector('.reader').getBoundingClientRect().top]",
        corner,
    )
    assert 0 < reached <= reader
