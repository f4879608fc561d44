import numpy as np
import pandas as pd
import pytest

from lapkit.compare.results import NO_MEMORY, CornerTrace, LogResults, RunResult, Unusable
from lapkit.measuring.packed import InFile, Keep, pack, unpack

NUMBERS = np.array([1.0, np.nan, -0.0, 1e300])


def trace(lap, count):
    arrays = [np.arange(count) + 100.0 * i for i in range(11)]
    return CornerTrace("Tove", "1", lap, "Larch", *arrays)


@pytest.fixture
def measured():
    table = pd.DataFrame(
        {
            "rider": pd.Series(["Tove", "=1+1", "é", None], dtype="str"),
            "time_s": NUMBERS,
            "lap": np.arange(4),
            "lane": pd.array([1, None, 3, 4], dtype="Int64"),
        }
    )
    empty = pd.DataFrame({"x_m": pd.Series([], dtype="float64")})
    run = RunResult("Tove", "1", {"laps": table, "seams": empty}, (trace(1, 5), trace(2, 3)))
    bare = RunResult("Tove", "2", {"laps": table}, ())
    return LogResults([run, bare], [Unusable("Ulf", "1", "u.gpx", "no fix")])


def test_what_was_packed_comes_back(measured):
    runs, unusable = unpack(pack(measured))
    assert unusable == measured.unusable
    for run, given in zip(runs, measured.runs, strict=True):
        assert (run.rider, run.session) == (given.rider, given.session)
        for name, table in given.tables.items():
            pd.testing.assert_frame_equal(run.tables[name], table)
        assert len(run.traces) == len(given.traces)
        for one, other in zip(run.traces, given.traces, strict=True):
            assert vars(one).keys() == vars(other).keys()
            for name, value in vars(other).items():
                np.testing.assert_array_equal(getattr(one, name), value)


def test_packing_again_gives_the_same_bytes(measured):
    data = pack(measured)
    assert pack(unpack(data)) == data


def test_traces_are_read_from_the_file_when_they_are_asked_for(measured, tmp_path):
    path = tmp_path / "kept"
    path.write_bytes(pack(measured))
    traces = unpack(path.read_bytes(), InFile(path)).runs[0].traces
    assert traces[1].lap == 2
    assert [t.lap for t in traces[:2]] == [1, 2]
    path.unlink()
    assert len(traces) == 2
    with pytest.raises(FileNotFoundError):
        traces[0]


@pytest.mark.parametrize("data", [b"", b"lapkit-run-2\n", b"PK" + bytes(40), b"lapkit-run-2\n" + b"\x02" + bytes(11) + b"[]"])  # fmt: skip
def test_anything_else_is_refused(data):
    with pytest.raises(ValueError, match="of a log"):
        unpack(data)


@pytest.mark.parametrize("lost", [1, 8, 200])
def test_cut_short_is_refused_be_it_of_a_trace_alone(measured, lost):
    with pytest.raises(ValueError, match="damaged"):
        unpack(pack(measured)[:-lost])


@pytest.mark.parametrize("share", [0.0, 0.001, 0.2, 0.9])
def test_a_bit_that_turned_is_noticed_wherever_it_is(measured, share):
    data = bytearray(pack(measured))
    data[int(share * len(data))] ^= 4
    with pytest.raises(ValueError, match="of a log"):
        unpack(bytes(data))


def test_what_failed_for_want_of_memory_is_not_taken_over(measured, tmp_path):
    keep = Keep(tmp_path / "new", tmp_path / "old")
    keep.earlier.mkdir()
    for name, reason, kept in (("short", NO_MEMORY, False), ("other", "it is broken", True)):
        failed = LogResults(measured.runs, [Unusable("Bo", "2", "b.csv", reason)])
        (keep.earlier / name).write_bytes(pack(failed))
        assert (keep.take_over(name) is not None) == kept


def test_what_is_whole_is_taken_over_and_read_from_its_new_place(measured, tmp_path):
    keep = Keep(tmp_path / "new", tmp_path / "old")
    data = pack(measured)
    keep.earlier.mkdir()
    (keep.earlier / "cut").write_bytes(data[:-200])
    (keep.earlier / "whole").write_bytes(data)
    assert keep.take_over("cut") is None
    assert keep.take_over("none") is None
    found = keep.take_over("whole")
    (keep.earlier / "whole").unlink()
    assert pack(found) == data
    assert [path.name for path in keep.folder.iterdir()] == ["whole"]
