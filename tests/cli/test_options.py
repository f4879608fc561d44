"""Options that several commands share, and what a command gets of them."""

from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from lapkit.cli import options
from lapkit.errors import OptionError, OutputError
from lapkit.importer.source import MAX_BYTES
from lapkit.measuring.inputs import Given
from lapkit.measuring.options import Options
from lapkit.reporter.formats import Formats
from lapkit.units import Units


def received(decorate, *words):
    """What a command with these options gets from these words."""
    got = {}

    @click.command()
    @decorate
    def command(**given):
        got.update(given)

    result = CliRunner().invoke(command, list(words), standalone_mode=False)
    if result.exception:
        raise result.exception
    return got


def test_reading_options_come_as_one():
    assert received(options.reading) == {"read": Options()}
    read = received(options.reading, "--columns", "time=T, latitude = Y ", "--max-size", "3")[
        "read"
    ]
    assert read.columns == (("time", "T"), ("latitude", "Y"))
    assert read.max_bytes == 3 * 1024**2 != MAX_BYTES


@pytest.mark.parametrize("words", ["time", "=T", "time=", "time=T,lat"])
def test_columns_that_name_no_header_are_refused(words):
    with pytest.raises(OptionError, match="--columns has"):
        received(options.reading, "--columns", words)


def test_the_trace_is_a_matter_of_reading():
    for both in (
        lambda f: options.reading(options.trace(f)),
        lambda f: options.trace(options.reading(f)),
    ):
        assert received(both, "--trace") == {"read": Options(trace=True)}
        assert received(both) == {"read": Options()}


def test_what_is_written_comes_as_one_with_the_units():
    def asked(f):
        return options.units(options.formats(click.option("--no-pages", is_flag=True)(f)))

    words = "--units", "us", "--parquet", "--pdf", "--no-pages"
    assert received(asked, *words) == {
        "formats": Formats(Units.US, pages=False, parquet=True, pdf=True)
    }
    assert received(asked) == {"formats": Formats()}


def test_files_beside_the_logs_come_as_one(tmp_path):
    log = tmp_path / "coach.gpx"
    log.write_text("")
    assert received(options.course, "--line", str(log)) == {"given": Given(line=log)}

    def with_riders(f):
        return options.course(click.option("--riders", type=options.FILE)(f))

    table = tmp_path / "riders.csv"
    assert received(with_riders, "--riders", str(table)) == {"given": Given(riders=table)}


def test_a_folder_is_no_log(tmp_path):
    with pytest.raises(OptionError, match="this is a folder, not a log"):
        received(options.course, "--base", str(tmp_path))


def test_a_file_need_not_be_there_but_its_name_must_be_one():
    assert received(options.track, "--track", "none.geojson") == {"track": Path("none.geojson")}
    with pytest.raises(OptionError, match="cannot be looked up"):
        received(options.track, "--track", "a" * 300)


@pytest.mark.parametrize(("word", "units"), [("us", Units.US), ("METRIC", Units.METRIC)])
def test_units_are_read_in_any_case(word, units):
    assert received(options.units, "--units", word) == {"units": units}


def test_results_that_could_not_be_written_are_refused_before_the_work(tmp_path, monkeypatch):
    log = tmp_path / "in" / "log.gpx"
    log.parent.mkdir()
    log.write_text("")
    with pytest.raises(OutputError):
        options.refuse_unwritable(log.parent, [log], Formats())
    options.refuse_unwritable(tmp_path / "out", [log], Formats())
    monkeypatch.setattr("lapkit.reporter.tables.find_spec", lambda _: None)
    with pytest.raises(OutputError):
        options.refuse_unwritable(tmp_path / "out", [log], Formats(parquet=True))
