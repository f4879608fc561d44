from dataclasses import replace

from lapkit.reporter.glossary import GLOSSARY, glossary
from lapkit.reporter.rider_page import rider_page
from lapkit.units import Units


def test_lengths_are_in_the_reader_s_units():
    told = dict(glossary(Units.US))
    assert "held over 33 ft" in told["Lean"]
    assert "{" not in "".join(told.values())


def test_without_a_marker_line_no_term_needs_one():
    bare = [term for term, _ in glossary(Units.METRIC, lined=False, seamed=False)]
    assert bare == ["Tightest radius", "Lean", "Usual lap", "Data"]
    assert len(glossary(Units.METRIC)) == len(GLOSSARY)


def test_terms_of_seams_stand_where_there_are_seams_with_a_marker_line_or_without():
    """Where no line can meet the cones lanes and seams are told all the same."""
    of_seams = {"Lane", "Inside the seam", "Unclear"}
    assert of_seams <= dict(glossary(Units.METRIC, lined=False)).keys()
    assert not of_seams & dict(glossary(Units.METRIC, seamed=False)).keys()


def test_a_page_of_a_course_without_seams_explains_none(event, nasty):
    bare = tuple(replace(corner, seams=()) for corner in event.course.corners)
    course = replace(event.course, corners=bare)
    page = rider_page(replace(event, course=course), event.riders[1], units=Units.METRIC).html
    for words in ("Dotted lines are seams", "A lane with a question mark", "<dt>Lane</dt>"):
        assert words in nasty.html
        assert words not in page
    assert "turn-in cone</li>" in page
