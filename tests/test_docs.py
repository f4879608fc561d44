"""README and DEVELOPERS: what they name exists, what exists is named, and their code runs."""

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import click
import pytest

import lapkit
from lapkit.cli import COMMANDS, group
from lapkit.path.summary import DRAWS

ROOT = Path(__file__).parents[1]
PAGES = {name: ROOT / name for name in ("README.md", "DEVELOPERS.md")}
TEXT = {name: path.read_text(encoding="utf-8") for name, path in PAGES.items()}
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")

NOT_RUN = {
    r"-m venv .*": "installing needs a network and minutes; .ci/run does it on a clean machine",
    r"\S*pip install .*": "as above",
    r"\. \.venv/bin/activate": "there is no such environment here; the program is on the path instead",
    r"\S*python -m pytest.*": "that is what is running now",
    r"\S*lapkit demo": "`lapkit event` goes through the same event in another block",
    r"\S*python tests/benchmarks/accuracy.py .*": "takes minutes; run by hand",
    r"\S*python notebooks/make.py": "tests/test_notebooks.py runs the same cells; this would rewrite them",
    r"\S*mypy": "takes half a minute where nothing is remembered; .ci/run does it",
    r"\S*ruff format \.": "would rewrite files; .ci/run checks the format",
}
"""Commands of code blocks that are not run here, and why."""


def blocks(kind):
    return [
        pytest.param(match.group(2), id=f"{name}-{number}")
        for name, text in TEXT.items()
        for number, match in enumerate(BLOCK.finditer(text))
        if match.group(1) == kind
    ]


def commands_with_options():
    """Every command line of lapkit → its options."""
    found = {}
    for name in COMMANDS:
        command = group.get_command(None, name)
        inner = command.commands if isinstance(command, click.Group) else {"": command}
        for sub, one in inner.items():
            options = {
                opt
                for p in one.params
                if isinstance(p, click.Option) and not p.is_eager
                for opt in p.opts
                if opt.startswith("--")
            }
            found[f"{name} {sub}".strip()] = options - {"--help"}
    return found


def documented_options():
    """The README's table: command line → the options it lists."""
    found = {}
    for line in TEXT["README.md"].splitlines():
        match = re.match(r"\| `lapkit ([^`]*)` \| ((?:`--[a-z-]+` ?)+)\|$", line)
        if match:
            words = [w for w in match.group(1).split() if w.islower()]
            found[" ".join(words)] = set(OPTION.findall(match.group(2)))
    return found


def test_the_readme_lists_every_command_with_all_its_options():
    real, told = commands_with_options(), documented_options()
    assert set(told) == set(real), "the README's table of options, and the commands"
    for name, options in real.items():
        assert told[name] == options, f"lapkit {name}: mend its line in the README's table"


@pytest.mark.parametrize("page", TEXT)
def test_every_option_and_command_on_a_page_exists(page):
    prose = re.sub(r"--(?:quick|no-[a-z]+-)\b", "", TEXT[page])  # --quick is the benchmark's own
    known = set().union(*commands_with_options().values()) | {"--help", "--version"}
    assert set(OPTION.findall(prose)) <= known
    for word in re.findall(r"`lapkit ([a-z]+)", TEXT[page]):
        assert word in COMMANDS, word


def test_every_command_has_its_place_in_the_day():
    for name in COMMANDS:
        assert f"`lapkit {name}" in TEXT["README.md"] or f"lapkit {name}" in TEXT["README.md"]


@pytest.mark.parametrize("code", blocks("python"))
def test_python_blocks_run(code, tmp_path):
    env = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env=env, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()


def test_the_first_example_takes_five_lines():
    code = next(m.group(2) for m in BLOCK.finditer(TEXT["README.md"]) if m.group(1) == "python")
    lines = code.strip().splitlines()
    assert lines[0] == "import lapkit"
    assert len(lines) - 1 <= 5


@pytest.mark.parametrize("code", blocks("sh"))
def test_shell_blocks_run(code, tmp_path):
    for name in ("lapkit", "tests", "sample_data", "notebooks", "pyproject.toml"):
        (tmp_path / name).symlink_to(ROOT / name)
    (tmp_path / "bin").mkdir()
    for line in code.strip().splitlines():
        for part in line.split("#")[0].split("&&"):
            run_or_reason(part.strip(), tmp_path)


def run_or_reason(command, folder):
    """Run a command of a page with this Python and this lapkit, unless there is a reason not to.

    ``folder`` stands for the checkout, so that what a command writes stays out of it.
    """
    if any(re.fullmatch(rf"(?:python3 )?{known}", command) for known in NOT_RUN):
        return
    program = folder / "bin" / "lapkit"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m lapkit "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    ready = command.replace(".venv/bin/", f"{Path(sys.executable).parent}/")
    env = {
        **os.environ,
        "PATH": f"{program.parent}:{os.environ['PATH']}",
        "PYTHONPATH": str(ROOT),
    }
    done = subprocess.run(
        ["bash", "-c", ready], cwd=folder, env=env, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, f"{command}: {done.stdout}{done.stderr}"


def test_every_reason_is_needed():
    lines = [
        part.strip()
        for text in TEXT.values()
        for kind, code in BLOCK.findall(text)
        if kind == "sh"
        for line in code.strip().splitlines()
        for part in line.split("#")[0].split("&&")
    ]
    for known in NOT_RUN:
        assert any(re.fullmatch(rf"(?:python3 )?{known}", line) for line in lines), known


def test_blocks_of_other_kinds_are_known():
    kinds = {kind for text in TEXT.values() for kind, _ in BLOCK.findall(text)}
    # Blocks without a kind are tables and drawings; zsh and fish lines are tested in cli/test_completion.py.
    assert kinds <= {"", "sh", "python", "zsh", "fish"}
    for text in TEXT.values():
        for kind, code in BLOCK.findall(text):
            assert kind or not re.search(
                r"^(\$|python|pip|lapkit|import|from) ", code, re.MULTILINE
            )


def test_the_readme_lists_every_public_name_and_no_other():
    section = TEXT["README.md"].split("## As a library")[1].split("\n## ")[0]
    table = [line for line in section.splitlines() if line.startswith("|")][2:]
    told = [name for line in table for name in re.findall(r"`(\w+)`", line.split("|")[2])]
    assert sorted(told) == sorted(set(lapkit.__all__) - {"__version__"})
    for name in re.findall(r"\blapkit\.(\w+)\(", "".join(TEXT.values())):
        assert hasattr(lapkit, name), name


def test_the_glossary_is_in_one_place_and_holds_the_words_of_the_trade():
    assert sum("## Words and signs" in text for text in TEXT.values()) == 1
    section = TEXT["README.md"].split("## Words and signs")[1].split("\n## ")[0]
    cells = [
        line.strip("| ").split(" | ") for line in section.splitlines() if line.startswith("| ")
    ]
    words = {word.strip() for cell in cells for word in cell[0].split(",")}
    for needed in (
        "track file", "marker line", "hold point", "base log", "ridden path", "tyre path",
        "tightest radius", "held over 10 m", "exit phase", "inside the seam", "lane", "seam",
        "out-lap", "in-lap", "balance lean", "`wide_of_line_m`", "`gap_m`", "`camber_deg`",
    ):  # fmt: skip
        assert needed in words, needed
    assert all(len(cell) == 2 and cell[1].strip() for cell in cells)


@pytest.mark.parametrize("page", TEXT)
def test_links_and_pictures_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+)\)", TEXT[page]):
        if not target.startswith("http"):
            assert (ROOT / target).exists(), target


@pytest.mark.parametrize("page", TEXT)
def test_files_named_in_backticks_exist(page):
    for name in re.findall(r"`((?:lapkit|tests|notebooks|sample_data|\.ci)/[\w./-]*)`", TEXT[page]):
        assert (ROOT / name).exists(), name


def files_named(name):
    """Files of the project whose path ends as ``name`` does."""
    rooms = (ROOT / room for room in ("lapkit", "tests", "sample_data", "notebooks"))
    return [path for room in rooms for path in room.rglob(Path(name).name) if path.match(name)]


MODULE = re.compile(r"`([\w/]+\.py)(?:: (\w[\w, ]*))?`")
"""A module that a page names, and what of it: ```held.py: Grid```."""


@pytest.mark.parametrize("page", TEXT)
def test_modules_named_on_a_page_exist_and_hold_what_they_are_named_for(page):
    for module, names in MODULE.findall(TEXT[page]):
        files = files_named(module)
        assert files, module
        for name in re.findall(r"\w+", names):
            assert any(re.search(rf"\b{name}\b", path.read_text("utf-8")) for path in files), (
                f"{module} has no {name}"
            )


def test_headings_that_a_page_links_to_are_there():
    for page, text in TEXT.items():
        headings = {
            re.sub(r"[^\w -]", "", line.lstrip("# ")).lower().replace(" ", "-")
            for line in BLOCK.sub("", text).splitlines()
            if line.startswith("#")
        }
        assert set(re.findall(r"\]\(#([\w-]+)\)", text)) <= headings, page


def test_every_package_is_listed_for_installation():
    setup = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    listed = set(setup["tool"]["setuptools"]["packages"])
    mapped = set(setup["tool"]["setuptools"]["package-dir"])
    holding = {
        ".".join(path.parent.relative_to(ROOT).parts) for path in (ROOT / "lapkit").rglob("*.py")
    }
    data = {"lapkit.reporter.templates"}  # files only, no module
    assert listed == holding | mapped | data
    assert set(setup["project"]["scripts"].values()) == {"lapkit.cli:main"}


def test_no_running_text_of_the_readme_is_overlong():
    """Tables and copyable commands are as long as they must be."""
    text = BLOCK.sub("", TEXT["README.md"])
    long = [line for line in text.splitlines() if len(line) > 120 and not line.startswith("|")]
    assert not long


def test_the_readme_counts_the_draws_that_are_made():
    assert f"works out {DRAWS} ridden paths" in TEXT["README.md"]
