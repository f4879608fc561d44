"""One feature of a track file: what is read of it, and how it names itself when it is refused."""

from enum import StrEnum

import pytest

from lapkit.course.feature import Feature, features
from lapkit.errors import TrackError


class Kind(StrEnum):
    TURN_IN = "turn_in"
    EXIT = "exit"


def feature(geometry=None, /, **properties):
    raw = {"type": "Feature", "id": "x", "properties": properties, "geometry": geometry}
    return Feature.of(raw, 4, "t.geojson")


def refused(what):
    return pytest.raises(TrackError, match=what)


def test_an_error_names_the_file_the_number_the_role_and_the_name():
    with refused(r"t\.geojson, feature 4 \(marker 'exit'\): it is wrong\. Mend it\."):
        feature(role="marker", name="exit").refuse("it is wrong", "Mend it.")
    assert feature().where == "t.geojson, feature 4 (without role)"


@pytest.mark.parametrize(("given", "read"), [(" a\n b ", "a b"), (7, "7"), (None, "")])
def test_text_comes_on_one_line_and_from_whole_numbers(given, read):
    assert feature(name=given).text("name") == read


@pytest.mark.parametrize("given", [True, 1.5, ["a"], 10**9, "a\x1b[2J", "a" * 2001])
def test_what_is_no_text_is_refused(given):
    with refused('property "name"'):
        feature(name=given).text("name")


def test_a_required_text_may_not_be_missing():
    with refused('"name" is missing'):
        feature(name="  ").text("name", required=True)


def test_a_list_of_sentences_may_be_a_single_one():
    assert feature(cues="wait").texts("cues") == ("wait",)
    assert feature(cues=["wait", " ", "look"]).texts("cues") == ("wait", "look")
    with refused("not a list"):
        feature(cues=3).texts("cues")


@pytest.mark.parametrize("given", ["3", True, float("nan"), 1e9])
def test_what_is_no_number_is_refused(given):
    with refused("is not a number"):
        feature(width_m=given).quantity("width_m")


def test_a_bound_itself_is_too_small():
    assert feature(width_m=0.1).quantity("width_m", above=0.0) == 0.1
    with refused("is 0, not above 0"):
        feature(width_m=0).quantity("width_m", above=0.0)


@pytest.mark.parametrize("word", ["turn_in", "Turn-In", " turn in"])
def test_a_word_may_be_written_loosely(word):
    assert feature(kind=word).choice("kind", Kind) is Kind.TURN_IN


def test_another_word_is_refused_with_those_that_are_known():
    with refused(r"'apex'\. Use one of: turn_in, exit\."):
        feature(kind="apex").choice("kind", Kind)


def test_properties_and_members_that_lapkit_does_not_know_are_the_others():
    one = feature(role="marker", name="a", colour="red")
    assert one.others("name") == {"colour": "red"}
    assert one.members == {"id": "x"}


@pytest.mark.parametrize(
    ("position", "point"), [([8, 50], (8.0, 50.0, None)), ([8, 50, 3, 9], (8.0, 50.0, 3.0))]
)
def test_a_point_has_a_height_when_it_has_a_third_number(position, point):
    assert feature({"type": "Point", "coordinates": position}).point() == point


@pytest.mark.parametrize(
    ("position", "remedy"),
    [([50.0, 120.0], "these look swapped"), ([190.0, 10.0], "lies between -180 and 180")],
)
def test_a_place_that_is_not_on_the_earth_may_be_swapped(position, remedy):
    with refused(remedy):
        feature({"type": "Point", "coordinates": position}).point()


def line(*parts):
    return feature({"type": "MultiLineString", "coordinates": list(parts)}).line()


def test_a_line_cut_at_the_antimeridian_is_joined_there():
    joined = line([[179.0, 0.0], [180.0, 0.0]], [[-180.0, 0.0], [-179.0, 0.0]])
    assert joined.lon_lat.tolist() == [[179.0, 0.0], [180.0, 0.0], [-179.0, 0.0]]
    with refused("several pieces"):
        line([[10.0, 0.0], [10.1, 0.0]], [[10.2, 0.0], [10.3, 0.0]])


def test_features_are_counted_from_one():
    document = {"type": "FeatureCollection", "features": [{"type": "Feature"}, {"type": "Line"}]}
    found = features(document, "t.geojson")
    assert next(found).number == 1
    with refused("feature 2: this is not a GeoJSON feature"):
        next(found)
