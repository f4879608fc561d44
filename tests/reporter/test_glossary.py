from lapkit.reporter.glossary import GLOSSARY, glossary
from lapkit.units import Units


def test_lengths_are_in_the_reader_s_units():
    told = dict(glossary(Units.US))
    assert "held over 33 ft" in told["Lean"]
    assert "{" not in "".join(told.values())


def test_without_a_marker_line_no_term_needs_one():
    bare = [term for term, _ in glossary(Units.METRIC, lined=False)]
    assert bare == ["Tightest radius", "Lean", "Usual lap", "Data"]
    assert len(glossary(Units.METRIC)) == len(GLOSSARY)
