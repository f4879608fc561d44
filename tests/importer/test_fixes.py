"""Rows of several riders in one file."""

import numpy as np

from lapkit.importer.fixes import RawFixes


def mixed(rider_of, riders):
    count = 4
    return RawFixes(
        np.arange(float(count)),
        np.arange(count) + 50.0,
        np.zeros(count),
        channels={"speed_mps": np.arange(count) * 10.0},
        void=np.array([False, True, False, False]),
        rider_of=rider_of,
        riders=riders,
        breaks_off=True,
    )


def test_each_rider_has_his_own_rows_of_every_column():
    ada, bo = mixed(np.array([0, 1, 1, 0]), ("Ada", "Bo")).by_rider()
    assert (ada[0], bo[0]) == ("Ada", "Bo")
    assert bo[1].time_s.tolist() == [1.0, 2.0]
    assert bo[1].lat_deg.tolist() == [51.0, 52.0]
    assert bo[1].channels["speed_mps"].tolist() == [10.0, 20.0]
    assert bo[1].void.tolist() == [True, False]
    assert ada[1].void.tolist() == [False, False]
    assert bo[1].breaks_off


def test_where_one_rider_or_none_is_named_all_rows_are_his():
    alone = mixed(np.zeros(4, dtype=np.int64), ("Ada",))
    assert list(alone.by_rider()) == [("Ada", alone)]
    nobody = mixed(None, ())
    assert list(nobody.by_rider()) == [("", nobody)]
