import pytest

from lapkit.season.checks import CORNER_CHECKS, FINDING_CHECKS, SEAM_CHECKS, text


@pytest.mark.parametrize("cell", [None, 5, ["Tove"], b"Tove"])
def test_what_is_no_text_is_refused(cell):
    with pytest.raises(TypeError, match="where text should"):
        text(cell)


def test_half_a_character_is_refused():
    with pytest.raises(ValueError, match="surrogates"):
        text("\ud800")


@pytest.mark.parametrize("cell", [True, -1, 1.0, "1", None, 2**31])
def test_a_lap_is_a_whole_number_from_zero(cell):
    assert CORNER_CHECKS["lap"](0) == 0
    with pytest.raises(TypeError, match="whole number"):
        CORNER_CHECKS["lap"](cell)


@pytest.mark.parametrize("cell", [True, "41", float("inf"), float("nan")])
def test_a_number_is_finite_or_missing(cell):
    check = CORNER_CHECKS["radius_min_m"]
    assert check(41) == 41.0
    assert type(check(41)) is float
    assert check(None) is None
    with pytest.raises(TypeError, match="where a number should"):
        check(cell)


@pytest.mark.parametrize("cell", ["perhaps", ""])
def test_a_call_is_one_of_three(cell):
    check = SEAM_CHECKS["call"]
    assert [check(call) for call in ("inside", "outside", "unclear")] == [
        "inside",
        "outside",
        "unclear",
    ]
    with pytest.raises(ValueError, match="no seam call"):
        check(cell)


@pytest.mark.parametrize("cell", [0, 1, None, "yes"])
def test_true_and_false_are_kept_as_numbers_and_nothing_else_is_taken(cell):
    assert FINDING_CHECKS["habit"](True) == 1
    assert FINDING_CHECKS["habit"](False) == 0
    with pytest.raises(TypeError, match="true or false"):
        FINDING_CHECKS["habit"](cell)
