"""The Tab key: click's own completion for bash, zsh and fish."""

import os
import shutil
import subprocess
import sys

import pytest

from lapkit.cli import COMMANDS

SHELLS = ("bash", "zsh", "fish")


def lapkit(**env):
    return subprocess.run(
        [sys.executable, "-c", "from lapkit.cli import main; main()"],
        env={**os.environ, **env},
        capture_output=True,
        text=True,
        timeout=60,
    )


def completed(shell, words, last):
    """What is offered after words, the last of them being typed."""
    line = " ".join(["lapkit", *words, last]).strip()
    done = lapkit(
        _LAPKIT_COMPLETE=f"{shell}_complete",
        COMP_WORDS=line,
        COMP_CWORD=last if shell == "fish" else str(len(words) + 1),
    )
    assert done.stderr == ""
    return done.stdout


@pytest.mark.parametrize("shell", SHELLS)
def test_the_script_of_a_shell_names_the_program(shell):
    done = lapkit(_LAPKIT_COMPLETE=f"{shell}_source")
    assert done.returncode == 0
    assert "lapkit" in done.stdout and f"{shell}_complete" in done.stdout


@pytest.mark.parametrize("shell", SHELLS)
def test_commands_and_options_are_completed(shell):
    assert "review" in completed(shell, [], "rev")
    assert "season" not in completed(shell, [], "rev")
    options = completed(shell, ["event"], "--w")
    assert "--workers" in options and "--track" not in options
    assert "us" in completed(shell, ["demo", "--units"], "u")
    assert "show" in completed(shell, ["season"], "s")


def test_every_command_is_offered():
    offered = completed("bash", [], "")
    assert all(name in offered for name in COMMANDS)


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
def test_completion_works_in_a_real_bash(tmp_path):
    program = tmp_path / "lapkit"
    program.write_text(
        f"#!/bin/sh\nexec '{sys.executable}' -c 'from lapkit.cli import main; main()' \"$@\"\n"
    )
    program.chmod(0o755)
    script = (
        'eval "$(_LAPKIT_COMPLETE=bash_source lapkit)"\n'
        "COMP_WORDS=(lapkit sea) COMP_CWORD=1\n"
        "_lapkit_completion lapkit sea lapkit\n"
        'echo "${COMPREPLY[@]}"\n'
    )
    done = subprocess.run(
        ["bash", "-c", script],
        env={**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}"},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.stdout.split() == ["season"], done.stderr


def test_a_mistyped_option_gets_the_nearest():
    done = subprocess.run(
        [sys.executable, "-m", "lapkit", "event", "day", "--wrkers", "2", "--out", "x"],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 2
    assert "--workers" in done.stderr


def test_help_comes_at_once():
    """Most of its time is Python's own start, which is taken off; the best of a few, other work apart."""

    def seconds(code):
        took = []
        for _ in range(5):
            before = os.times()
            subprocess.run([sys.executable, "-c", code], capture_output=True, timeout=60)
            after = os.times()
            took.append(
                after.children_user
                + after.children_system
                - before.children_user
                - before.children_system
            )
        return min(took)

    ask = "import sys; sys.argv = ['lapkit', '--help']; from lapkit.cli import main; main()"
    assert seconds(ask) - seconds("pass") < 0.15
