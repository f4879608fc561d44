"""What an event is measured from, read once."""

import shutil

import pytest

from lapkit.measuring.inputs import Given, event_inputs
from lapkit.measuring.options import Options
from lapkit.units import Units

RIDERS = "rider,session,file\nAda,1,a.csv\nBen,1,b.csv\nCy,1,../secret.csv\n"


@pytest.fixture
def folder(tmp_path):
    """Two logs, and a line that points out of the folder."""
    (tmp_path / "secret.csv").write_text("not for you")
    inside = tmp_path / "day"
    inside.mkdir()
    (inside / "riders.csv").write_text(RIDERS)
    for name in ("a.csv", "b.csv", "track.geojson"):
        (inside / name).write_text(name)
    return inside


def keys(folder, **given):
    return event_inputs(folder, Given(**given)).job_keys(Options())


def test_a_log_outside_the_folder_is_not_hashed(folder):
    inputs = event_inputs(folder)
    names = [path.name for path in inputs.hashes]
    assert names == ["riders.csv", "track.geojson", "a.csv", "b.csv"]
    assert all(inputs.hashes.values())


def test_each_line_has_the_hash_of_its_log_but_not_of_one_outside(folder):
    inputs = event_inputs(folder)
    known = [inputs.hashes[folder / name] for name in ("a.csv", "b.csv")]
    assert [entry.sha256 for entry in inputs.entries] == [*known, ""]


def test_a_changed_log_is_another_job_and_leaves_the_others(folder):
    before = keys(folder)
    (folder / "b.csv").write_text("ridden again")
    after = keys(folder)
    assert [one == other for one, other in zip(before, after, strict=True)] == [True, False, True]


def test_what_the_course_is_made_of_changes_every_job(folder, tmp_path):
    known = [keys(folder), keys(folder, track=folder / "a.csv")]
    known += [keys(folder, line=folder / "a.csv"), keys(folder, base=folder / "a.csv")]
    (folder / "track.geojson").rename(tmp_path / "track.geojson")
    # Found from the logs the course is another one when any of them changes.
    known.append(keys(folder))
    (folder / "b.csv").write_text("ridden again")
    known.append(keys(folder))
    for jobs in zip(*known, strict=True):
        assert len(set(jobs)) == len(known)


def test_the_record_says_what_was_given_as_what_and_what_was_there(folder, tmp_path):
    inputs = event_inputs(folder, Given(line=folder / "a.csv"))
    record = inputs.provenance(Options(), Units.METRIC)
    assert (record["options"]["track"], record["options"]["line"]) == ("track.geojson", "a.csv")
    assert (record["options"]["riders"], record["options"]["base"]) == ("riders.csv", None)
    assert record["inputs"] == {path.name: digest for path, digest in inputs.hashes.items()}


def test_a_track_file_under_another_name_is_pointed_out(folder):
    assert event_inputs(folder).notes == ()
    (folder / "track.geojson").rename(folder / "Sunday.geojson")
    (note,) = event_inputs(folder).notes
    assert "Sunday.geojson is there" in note


def test_a_misspelt_column_is_told(folder):
    """Left unsaid, the height that was measured would not count, and nobody would know."""
    table = folder / "riders.csv"
    head, rest = table.read_text().split("\n", 1)
    table.write_text(f"{head},antena_height_m\n{rest}")
    assert event_inputs(folder).notes == (
        "The column “antena_height_m” of riders.csv is not read. Did you mean antenna_height_m?",
    )


def test_logs_forgotten_in_riders_csv_are_told(folder):
    logs = folder / "logs"
    logs.mkdir()
    for name in ("a.gpx", "late.gpx.gz", "notes.txt", ".late.gpx", "coach.gpx"):
        (logs / name).write_text("x")
    (folder / "walk.csv").write_text("x")
    (logs / "old.gpx").mkdir()
    table = folder / "riders.csv"
    table.write_text(table.read_text() + "Ada,7,logs/a.gpx\n")
    given = Given(line=logs / "coach.gpx")
    assert event_inputs(folder, given).notes == (
        "logs/late.gpx.gz lies beside the logs, but no line of riders.csv names it. Add a line if it is to count.",
    )
    for number in range(4):
        (logs / f"m{number}.GPX").write_text("x")
    (told,) = event_inputs(folder, given).notes
    assert told.startswith(
        "logs/late.gpx.gz, logs/m0.GPX, logs/m1.GPX and 2 more lie beside the logs"
    )
    table.write_text(table.read_text() + "".join(f"Bo,{n},logs/m{n}.GPX\n" for n in range(4)))
    table.write_text(table.read_text() + "Bo,9,logs/late.gpx.gz\n")
    assert event_inputs(folder, given).notes == ()


def test_nothing_is_looked_for_beside_a_log_that_is_not_there_or_lies_elsewhere(folder):
    (folder.parent / "other").mkdir()
    for name in ("a.gpx", "b.gpx"):
        (folder.parent / "other" / name).write_text("x")
    table = folder / "riders.csv"
    table.write_text(table.read_text() + "Ada,7,gone/a.gpx\nAda,8,../other/a.gpx\n")
    assert event_inputs(folder).notes == ()


def test_a_log_that_a_line_names_or_means_is_not_called_forgotten(folder):
    logs = folder / "logs"
    logs.mkdir()
    for name in ("a.gpx", "bo-1.gpx", "cy-1.gpx"):
        (logs / name).write_text("x")
    table = folder / "riders.csv"
    first, *rest = table.read_text().splitlines()
    lines = [f"{first},antenna_height_m", *(f"{line}," for line in rest)]
    # One line has another sign in the name of its log, one has a height that no machine has.
    lines += ["Ada,7,logs/a.gpx,", "Bo,1,logs/bo_1.gpx,", "Cy,1,logs/cy-1.gpx,95000"]
    table.write_text("\n".join(lines))
    inputs = event_inputs(folder)
    assert [bool(entry.fault) for entry in inputs.entries[-3:]] == [False, True, True]
    assert inputs.notes == ()


def test_the_same_event_in_another_place_has_the_same_jobs(folder, tmp_path):
    moved = shutil.copytree(folder, tmp_path / "elsewhere" / "day")
    assert keys(moved) == keys(folder)
