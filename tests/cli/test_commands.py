import os
import subprocess
import sys

import pytest
from click.testing import CliRunner

from lapkit.cli import COMMANDS, group
from lapkit.errors import OptionError


def run(*args):
    return subprocess.run(
        [sys.executable, "-m", "lapkit", *map(str, args)],
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name):
    result = CliRunner().invoke(group, [name, "--help"])
    assert result.exit_code == 0, result.output
    assert "Usage:" in result.output
    command = group.get_command(None, name)
    for option in command.params:
        if option.param_type_name == "option":
            assert option.help, f"{name} {option.opts} lacks help"


def test_no_help_imports_pandas_or_numpy():
    code = (
        "import sys\n"
        "from lapkit.cli import COMMANDS, group\n"
        "for args in ([], *([name] for name in COMMANDS), ['season', 'add'], ['season', 'show']):\n"
        "    try:\n        group.main([*args, '--help'], prog_name='lapkit')\n"
        "    except SystemExit:\n        pass\n"
        "    heavy = {'pandas', 'numpy', 'scipy', 'matplotlib', 'jinja2'} & set(sys.modules)\n"
        "    assert not heavy, (args, heavy)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr


def test_version():
    assert run("--version").stdout.startswith("lapkit, version ")


def test_a_mistyped_command_gets_the_nearest():
    done = run("revew")
    assert done.returncode == 2
    assert "review" in done.stderr


def test_a_missing_log_is_one_line_and_status_1(tmp_path):
    done = run("laps", tmp_path / "none.gpx")
    assert done.returncode == 1
    assert "none.gpx" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "Traceback" not in done.stderr


def test_wrong_columns_option_is_status_2(tmp_path):
    done = run("laps", "--columns", "time", tmp_path / "none.csv")
    assert done.returncode == OptionError.exit_status == 2
    assert "name=header" in done.stderr


def test_an_empty_folder_is_no_event(tmp_path):
    done = run("event", tmp_path, "--out", tmp_path.parent / "out")
    assert done.returncode == 1
    assert "riders.csv" in done.stderr
    assert not (tmp_path.parent / "out").exists()


def test_linear_algebra_is_told_to_use_one_thread_before_numpy_comes():
    code = (
        "import os, sys\n"
        "sys.argv = ['lapkit', '--version']\n"
        "from lapkit.cli import main\n"
        "assert 'numpy' not in sys.modules\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "assert os.environ['OPENBLAS_NUM_THREADS'] == '1'\n"
    )
    env = {k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env)
    assert done.returncode == 0, done.stderr
