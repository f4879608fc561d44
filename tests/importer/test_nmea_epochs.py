"""Sentences joined to epochs."""

import numpy as np
import pytest

from lapkit.importer.nmea_epochs import NO_DAY, Epochs
from lapkit.units import KMH_MPS, KNOT_MPS

PLACE = "5230.0,N,00130.0,W"
FINER = "5230.06,S,00130.06,E"


def epochs(*sentences):
    joined = Epochs()
    for text in sentences:
        kind, _, fields = text.partition(",")
        joined.add(kind.encode(), fields.encode().split(b","))
    joined.finish()
    return joined


def only(joined):
    assert len(joined.time_us) == 1
    return {name: column[0] for name, column in joined.columns.items() if not np.isnan(column[0])}


def rmc(clock, place=PLACE, status="A", tail="10.0,45.0,020526,,,A"):
    return f"RMC,{clock},{status},{place},{tail}"


def gga(clock, place=PLACE, quality="1", tail="09,0.8,83.1,M,,"):
    return f"GGA,{clock},{place},{quality},{tail}"


def test_sentences_of_one_time_make_one_epoch():
    joined = epochs(rmc("010203.5"), gga("010203.50"))
    assert only(joined) == {
        "lat": 52.5, "lon": -1.5, "speed_mps": 10.0 * KNOT_MPS, "heading_deg": 45.0,
        "height_m": 83.1, "hdop": 0.8, "satellites": 9.0, "fix_quality": 1.0,
    }  # fmt: skip
    assert list(joined.time_us) == [3_723_500_000]
    assert list(joined.void) == [0]


def test_another_time_begins_another_epoch_and_brings_nothing_along():
    joined = epochs(rmc("000001", status="V"), "GNS,000002,,,,,A,,,,,,")
    assert list(joined.time_us) == [1_000_000, 2_000_000]
    assert list(joined.void) == [1, 0]
    assert list(joined.day) == [20_575, NO_DAY]
    assert np.isnan(joined.columns["lat"][1])
    assert np.isnan(joined.columns["speed_mps"][1])


@pytest.mark.parametrize("order", [(PLACE, FINER), (FINER, PLACE)])
def test_the_position_with_more_digits_is_taken_whichever_comes_first(order):
    values = only(epochs(rmc("000001", order[0]), gga("000001", order[1])))
    assert values["lat"] == pytest.approx(-52.501)
    assert values["lon"] == pytest.approx(1.501)


def test_the_quality_of_gga_goes_before_the_letter_of_a_mode():
    assert only(epochs(rmc("000001"), gga("000001", quality="4")))["fix_quality"] == 4.0
    assert only(epochs(gga("000001", quality="4"), rmc("000001")))["fix_quality"] == 4.0


@pytest.mark.parametrize(
    ("letters", "quality"),
    [("NA", 1), ("DA", 2), ("AP", 3), ("AR", 4), ("F", 5), ("EM", 6), ("M", 7), ("S", 8)],
)
def test_of_several_modes_the_best_counts(letters, quality):
    assert only(epochs(f"GNS,000001,{PLACE},{letters},,,,,,"))["fix_quality"] == quality


@pytest.mark.parametrize(
    "sentence",
    [rmc("1", status="V"), rmc("1", tail="1,2,020526,,,N"), gga("1", quality="0"), gga("1", quality=""),
     f"GNS,1,{PLACE},NN,,,,,,"],
)  # fmt: skip
def test_each_type_of_sentence_can_mark_an_epoch_as_void(sentence):
    assert list(epochs(sentence.replace(",1,", ",000001,", 1)).void) == [1]


def test_vtg_belongs_to_the_epoch_before_it():
    assert only(epochs(gga("000001"), "VTG,90.0,T,,M,20.0,N,,K"))["speed_mps"] == 20.0 * KNOT_MPS
    kmh = only(epochs(gga("000001"), "VTG,90.0,T,,M,,N,36.0,K"))
    assert kmh["speed_mps"] == 36.0 * KMH_MPS
    assert kmh["heading_deg"] == 90.0
    bare = only(epochs(gga("000001"), "VTG,90.0,88.0,20.0,37.0"))
    assert bare["speed_mps"] == 20.0 * KNOT_MPS
    assert len(epochs("VTG,90.0,T,,M,20.0,N,,K").time_us) == 0


def test_the_first_velocity_of_an_epoch_holds():
    values = only(epochs(rmc("000001"), "VTG,90.0,T,,M,20.0,N,,K"))
    assert values["speed_mps"] == 10.0 * KNOT_MPS
    assert values["heading_deg"] == 45.0


def test_sentences_without_a_time_and_unreadable_ones_are_counted():
    joined = epochs(
        "GGA,,,,,,0,00,,,,,,",
        gga("000001", quality="x"),
        rmc("240000"),
        "RMC,000002,A",
        rmc("000003"),
    )
    assert joined.timeless == 1
    assert joined.unreadable == 3
    assert list(joined.time_us) == [1_000_000, 2_000_000, 3_000_000]


def test_a_sentence_with_an_unreadable_number_gives_no_position():
    assert only(epochs(rmc("000001", tail="fast,45.0,020526,,,A"))) == {}


@pytest.mark.parametrize("clock", ["240000", "006000", "000061", "0000"])
def test_times_that_no_clock_shows_are_unreadable(clock):
    assert epochs(rmc(clock)).unreadable == 1


def test_the_last_second_of_a_day_and_a_leap_second_are_times():
    joined = epochs(rmc("235959.999"), rmc("235960.5"))
    assert list(joined.time_us) == [86_399_999_000, 86_400_500_000]


@pytest.mark.parametrize(
    "place", ["5260.0,N,00130.0,W", "5230.0,N,00160.0,W", "52x0.0,N,00130.0,W"]
)
def test_places_that_have_no_minutes_are_unreadable(place):
    assert epochs(rmc("000001", place)).unreadable == 1


def test_a_place_within_a_degree_of_the_equator_is_read():
    values = only(epochs(rmc("000001", "30.0,S,5.5,E")))
    assert (values["lat"], values["lon"]) == (-0.5, pytest.approx(5.5 / 60.0))
