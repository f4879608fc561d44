"""A folder of results is not replaced by results of something else."""

import pytest

from lapkit.errors import OutputError
from lapkit.reporter.contents import HOLDS, Contents, What, read_contents, refuse_others

results = Contents.results
EVENT = results(
    "saltmarsh", ["Tove", "Marlo", "Iska", "Bren", "Odel"], ["t1", "m1", "i1", "i2", ""]
)
MARLO = results("Marlo", ["Marlo"], ["m1"])
SHEETS, RUNS = Contents(What.SHEETS), Contents(What.RUNS)


@pytest.mark.parametrize(
    ("new", "there"),
    [
        (EVENT, EVENT),
        # A log was left out, a rider's name mended, every log exported anew.
        (results("saltmarsh", ["Tove", "Marlow"], ["t1", "m1"]), EVENT),
        (results("saltmarsh", ["Tove", "Marlo"], ["t9", "m9"]), EVENT),
        # The event folder was renamed.
        (results("ring", ["Tove", "Marlo"], ["t1", "m9"]), EVENT),
        # Another run of his, his name mended, his run within the event.
        (results("Marlo", ["Marlo"], ["m2"]), MARLO),
        (results("Marlow", ["Marlow"], ["m1", "m2"]), MARLO),
        (EVENT, MARLO),
        (SHEETS, SHEETS),
        (RUNS, RUNS),
    ],
)
def test_the_same_in_a_later_state_takes_its_place(new, there):
    assert new.may_replace(there)


@pytest.mark.parametrize(
    ("new", "there"),
    [
        # One rider's debrief, be it of a log of the event; another rider's; another event of the same riders.
        (MARLO, EVENT),
        (results("saltmarsh", ["Marlo"], ["m1"]), EVENT),
        (results("Odel", ["Odel"], ["o1"]), MARLO),
        (results("july", EVENT.riders, ["t7", "m7"]), EVENT),
        (results("july", ["Abel", "Bea"], ["a1"]), MARLO),
        (SHEETS, EVENT),
        (EVENT, SHEETS),
        (MARLO, RUNS),
    ],
)
def test_something_else_is_refused_and_what_is_there_is_named(tmp_path, new, there):
    assert not new.may_replace(there)
    there.write(tmp_path)
    with pytest.raises(OutputError, match="would be lost; it was left as it is") as told:
        refuse_others(tmp_path, new)
    assert "Choose another --out folder, or delete this one first" in str(told.value)


def test_what_is_there_is_named(tmp_path):
    assert EVENT.words == "an event's results (Tove, Marlo, Iska and 2 more)"
    assert MARLO.words == "the results of one rider (Marlo)"
    assert SHEETS.words == "corner sheets"


def test_unreadable_logs_have_nothing_in_common():
    there = results("may", ["Tove", "Marlo"], ["", ""])
    assert not results("june", ["Tove", "Marlo"], ["", ""]).may_replace(there)


@pytest.mark.parametrize("text", ["", "[]", '{"what": "results"}', '{"what": "cakes", "name": ""}'])
def test_a_folder_that_does_not_say_what_it_holds_is_replaced(tmp_path, text):
    """So is one that an older lapkit wrote."""
    assert read_contents(tmp_path) is None
    (tmp_path / HOLDS).write_text(text)
    assert read_contents(tmp_path) is None
    refuse_others(tmp_path, MARLO)


def test_what_was_written_is_read_again(tmp_path):
    for contents in (EVENT, SHEETS):
        contents.write(tmp_path)
        assert read_contents(tmp_path) == contents
