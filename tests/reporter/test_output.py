import errno
import multiprocessing as mp
import os
import signal
import time
from pathlib import Path

import pytest

from lapkit.errors import OutputError
from lapkit.reporter import output
from lapkit.reporter.contents import HOLDS, Contents, What
from lapkit.reporter.output import LIST, refuse_early


def whole_folder(out, inputs=()):
    """A folder of sheets, which take each other's place."""
    return output.whole_folder(out, inputs, Contents(What.SHEETS))


def fill(folder, text):
    (folder / "results.json").write_text(text)
    (folder / "laps.csv").write_text(text)


def test_the_folder_appears_with_all_its_files(tmp_path):
    out = tmp_path / "a" / "out"
    with whole_folder(out) as folder:
        fill(folder, "new")
        assert not out.exists()
    assert {p.name: p.read_text() for p in out.iterdir() if p.name not in (LIST, HOLDS)} == {
        "results.json": "new",
        "laps.csv": "new",
    }
    assert (out / LIST).read_text().split() == [LIST, HOLDS, "laps.csv", "results.json"]
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
    assert sorted(p.name for p in out.iterdir()) == [LIST, HOLDS, "laps.csv", "results.json"]


def test_a_folder_that_is_not_lapkit_s_is_never_replaced(tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "holiday.jpg").write_text("precious")
    with pytest.raises(OutputError, match="did not write"), whole_folder(out):
        pass
    assert (out / "holiday.jpg").read_text() == "precious"


def test_what_somebody_put_among_the_results_is_carried_over(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
        (folder / "figures").mkdir()
        (folder / "figures" / "gone.svg").write_text("old")
    (out / "notes.txt").write_text("mine")
    (out / "figures" / "photo.jpg").write_text("mine too")
    with whole_folder(out) as folder:
        fill(folder, "new")
    names = sorted(p.relative_to(out).as_posix() for p in out.rglob("*"))
    assert names[:3] == [LIST, HOLDS, "figures"]
    assert names[3:] == ["figures/photo.jpg", "laps.csv", "notes.txt", "results.json"]
    assert (out / "notes.txt").read_text() == "mine"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_name_that_somebody_took_is_not_written_over(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
    (out / "rider-bo.html").write_text("mine")
    with pytest.raises(OutputError, match=r"rider-bo\.html"), whole_folder(out) as folder:
        fill(folder, "new")
        (folder / "rider-bo.html").write_text("new")
    assert (out / "rider-bo.html").read_text() == "mine"
    assert (out / "laps.csv").read_text() == "old"


def test_a_folder_put_in_place_of_a_result_is_not_written_over(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
    (out / "laps.csv").unlink()
    (out / "laps.csv").mkdir()
    with whole_folder(out) as folder:
        fill(folder, "new")
    assert (out / "laps.csv").read_text() == "new"
    (out / "laps.csv").unlink()
    (out / "laps.csv").mkdir()
    (out / "laps.csv" / "notes.txt").write_text("mine")
    with pytest.raises(OutputError, match=r"laps\.csv there was not"), whole_folder(out) as folder:
        fill(folder, "newer")
    assert (out / "laps.csv" / "notes.txt").read_text() == "mine"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_link_put_in_place_of_a_folder_is_not_written_over(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
    (out / "figures").symlink_to(tmp_path)
    with pytest.raises(OutputError, match="figures there was not"), whole_folder(out) as folder:
        (folder / "figures").mkdir()
        (folder / "figures" / "a.svg").write_text("new")
    assert (out / "figures").is_symlink()
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_damaged_list_makes_nothing_lapkit_s(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
    (out / LIST).write_bytes(b"\xff\xfe\x00laps.cs")
    with pytest.raises(OutputError, match="was not written by lapkit"), whole_folder(out) as folder:
        fill(folder, "new")
    assert (out / "laps.csv").read_text() == "old"


def test_a_list_that_leads_out_of_the_folder_removes_nothing_there(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
    (tmp_path / "precious").write_text("mine")
    with (out / LIST).open("a") as file:
        file.write(f"../precious\n{tmp_path / 'precious'}\n")
    with whole_folder(out) as folder:
        fill(folder, "new")
    assert (tmp_path / "precious").read_text() == "mine"


def test_a_run_killed_while_clearing_up_is_finished_by_the_next(tmp_path):
    out, old = tmp_path / "out", tmp_path / ".out.lapkit-old"
    with whole_folder(out) as folder:
        fill(folder, "1")
    (out / "notes.txt").write_text("mine")
    out.rename(old)
    with whole_folder(tmp_path / "other") as folder:
        fill(folder, "2")
    (tmp_path / "other").rename(out)
    with whole_folder(out) as folder:
        fill(folder, "3")
    assert (out / "laps.csv").read_text() == "3"
    assert (out / "notes.txt").read_text() == "mine"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_the_list_goes_last_so_that_clearing_up_can_be_gone_on_with(tmp_path, monkeypatch):
    """Without it what is left of the earlier results would look like somebody else's files."""
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
    remove = Path.unlink

    def stuck(path, **how):
        if path.name == "results.json":
            raise OSError(errno.EBUSY, "busy")
        remove(path, **how)

    monkeypatch.setattr(Path, "unlink", stuck)
    with pytest.raises(OutputError), whole_folder(out) as folder:
        fill(folder, "new")
    (left,) = tmp_path.glob(".out.lapkit-old")
    assert sorted(path.name for path in left.iterdir()) == [LIST, "results.json"]
    monkeypatch.undo()
    with whole_folder(out) as folder:
        fill(folder, "newer")
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
    assert (out / "results.json").read_text() == "newer"


def test_an_empty_folder_may_be_written_into(tmp_path):
    with whole_folder(tmp_path / "out") as folder:
        fill(folder, "new")
    (tmp_path / "empty").mkdir()
    with whole_folder(tmp_path / "empty") as folder:
        fill(folder, "new")
    assert (tmp_path / "empty" / "laps.csv").read_text() == "new"


def test_a_full_disk_is_said_and_leaves_the_earlier_results(tmp_path):
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "old")
    with pytest.raises(OutputError, match="the disk is full"), whole_folder(out) as folder:
        fill(folder, "new")
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    assert (out / "laps.csv").read_text() == "old"


def test_a_link_is_not_followed(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    with pytest.raises(OutputError, match="not a folder"), whole_folder(tmp_path / "link"):
        pass


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


@pytest.mark.parametrize("in_one_step", [True, False])
def test_killed_at_any_moment_the_results_are_whole(tmp_path, monkeypatch, in_one_step):
    if not in_one_step:
        monkeypatch.setattr(output, "exchange", lambda one, other: False)
    out = tmp_path / "out"
    with whole_folder(out) as folder:
        fill(folder, "0")
    (out / "notes.txt").write_text("mine")
    for turn in range(12):
        worker = mp.get_context("fork").Process(target=_write_for_ever, args=(out,))
        worker.start()
        time.sleep(0.03 + 0.004 * turn)
        os.kill(worker.pid, signal.SIGKILL)
        worker.join()
        if not in_one_step and not out.exists():
            # Killed between the two renames: the earlier results wait beside and the next run takes them.
            assert (tmp_path / ".out.lapkit-old" / "results.json").is_file()
        else:
            assert (out / "results.json").read_text() == (out / "laps.csv").read_text() != ""
        # Whatever was left undone, the next run begins by putting it right.
        with pytest.raises(RuntimeError), whole_folder(out):
            raise RuntimeError
        assert (out / "notes.txt").read_text() == "mine"
        assert (out / "results.json").read_text() == (out / "laps.csv").read_text() != ""


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_no_permission_is_said(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="permission"), whole_folder(tmp_path / "out"):
        pass


def test_what_would_be_refused_at_the_end_is_refused_before_the_work(tmp_path):
    (tmp_path / "in").mkdir()
    with pytest.raises(OutputError, match="inside the input"):
        refuse_early(tmp_path / "in" / "out", [tmp_path / "in"])
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine")
    with pytest.raises(OutputError, match="did not write"):
        refuse_early(tmp_path / "full")
    refuse_early(tmp_path / "new", [tmp_path / "in"])
    assert not (tmp_path / "new").exists()
