from lapkit.reporter.columns import aligned


def test_columns_are_as_wide_as_their_widest_cell_and_steer_nothing():
    assert aligned(("a", "b"), [("long", "x"), ("", "y\x07")]) == [
        "  a     b",
        "  long  x",
        "        y�",
    ]
