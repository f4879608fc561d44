import multiprocessing as mp
import os
import signal
import time

import pytest

from lapkit.errors import OutputError
from lapkit.reporter.output import whole_folder


def fill(folder, text):
    (folder / "results.json").write_text(text)
    (folder / "laps.csv").write_text(text)


def test_the_folder_appears_with_all_its_files(tmp_path):
    out = tmp_path / "a" / "out"
    with whole_folder(out) as folder:
        fill(folder, "new")
        assert not out.exists()
    assert {p.name: p.read_text() for p in out.iterdir()} == {
        "results.json": "new",
        "laps.csv": "new",
    }
    assert [p.name for p in out.parent.iterdir()] == ["out"]


def test_an_error_leaves_the_earlier_results(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
    with pytest.raises(RuntimeError), whole_folder(out) as folder:
        fill(folder, "new")
        raise RuntimeError
    assert (out / "laps.csv").read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_files_of_an_earlier_run_do_not_linger(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
        (folder / "rider-gone.html").write_text("old")
    with whole_folder(out) as folder:
        fill(folder, "new")
    assert sorted(p.name for p in out.iterdir()) == ["laps.csv", "results.json"]


def test_a_folder_that_is_not_lapkit_s_is_never_replaced(tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "holiday.jpg").write_text("precious")
    with pytest.raises(OutputError, match="did not write"), whole_folder(out):
        pass
    assert (out / "holiday.jpg").read_text() == "precious"


@pytest.mark.parametrize("where", [".", "sub", ".."])
def test_output_over_or_inside_the_input_is_refused(tmp_path, where):
    event = tmp_path / "event"
    event.mkdir()
    with pytest.raises(OutputError, match="input"), whole_folder(event / where, [event]):
        pass


def test_a_file_in_the_way_is_refused(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="not a folder"), whole_folder(tmp_path / "out"):
        pass


def test_two_runs_into_one_folder(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "first")
        with pytest.raises(OutputError, match="another run"), whole_folder(out):
            pass
    assert (out / "laps.csv").read_text() == "first"


def _write_for_ever(out):
    number = 0
    while True:
        number += 1
        with whole_folder(out) as folder:
            fill(folder, str(number))


def test_killed_at_any_moment_the_results_are_whole(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "0")
    for turn in range(12):
        worker = mp.get_context("fork").Process(target=_write_for_ever, args=(out,))
        worker.start()
        time.sleep(0.03 + 0.004 * turn)
        os.kill(worker.pid, signal.SIGKILL)
        worker.join()
        if not out.exists():
            # Killed between the two renames: the earlier results wait beside and the next run takes them.
            assert (tmp_path / ".out.old" / "results.json").is_file()
            with pytest.raises(RuntimeError), whole_folder(out):
                raise RuntimeError
        assert (out / "results.json").read_text() == (out / "laps.csv").read_text() != ""


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_no_permission_is_said(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="permission"), whole_folder(tmp_path / "out"):
        pass
