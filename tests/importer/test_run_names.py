"""What runs are called."""

from lapkit.importer.run_names import RunNames


def test_a_rider_s_run_gets_the_lowest_number_that_is_free():
    names = RunNames([("Ada", "1"), ("Ada", "1 (2)")])
    assert [names.take("Ada", "1") for _ in range(2)] == ["1 (3)", "1 (4)"]
    assert names.take("Bo", "1") == "1"


def test_asking_for_a_name_does_not_take_it():
    names = RunNames()
    assert [names.free("Ada", "1") for _ in range(2)] == ["1", "1"]
    assert names.take("Ada", "1") == "1"
    assert names.free("Ada", "1") == "1 (2)"
