from lapkit.reporter.rider_grid import OF, SHORT_OF, of_between, rider_sentences


def said(at, corners=3):
    return rider_sentences(
        at, corners=corners, of_one="{who} is at {where}.", of_several="{who} are at {where}."
    )


def test_riders_come_by_their_number_of_corners_and_none_without_one():
    at = {"Ann": ["Larch"], "Bea": [], "Cat": ["Larch", "Weir"], "Dee": ["Anvil"]}
    assert said(at) == ["Cat is at Larch and Weir.", "Ann is at Larch.", "Dee is at Anvil."]


def test_all_corners_are_not_listed_unless_there_is_only_one():
    assert said({"Ann": ["A", "B", "C"]}) == ["Ann is at all 3 corners below."]
    assert said({"Ann": ["A"]}, corners=1) == ["Ann is at A."]


def test_more_riders_than_eight_are_counted():
    assert said({str(i): ["A"] for i in range(8)}) == ["0, 1, 2, 3, 4, 5, 6 and 7 are at A."]
    assert said({str(i): ["A"] for i in range(11)})[1:] == ["The same is so of 3 more."]


def test_riders_with_the_same_corners_are_named_together():
    at = {"Ann": ["Weir"], "Bea": ["Larch", "Weir"], "Cat": ["Larch"], "Dee": ["Weir"]}
    assert said(at) == ["Bea is at Larch and Weir.", "Ann and Dee are at Weir.", "Cat is at Larch."]


def test_only_who_has_fewer_corners_than_all_that_are_named_is_said_to():
    two = {str(i): ["A", "B"] for i in range(8)}
    assert said(two | {"Ann": ["A"]})[1:] == ["The same is so of 1 more, at fewer corners."]
    assert said(two | {"Ann": ["A"], "Bea": ["A", "B"]})[1:] == ["The same is so of 2 more."]


def test_many_corners_are_written_short():
    assert of_between(9) == OF
    assert of_between(10) == SHORT_OF
