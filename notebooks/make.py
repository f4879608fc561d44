"""Makes the outputs of the notebooks again, in plain Python: no server, no kernel.

    python notebooks/make.py [NOTEBOOK.ipynb ...]

Every code cell is run in order in one namespace, and what it prints, ends in or draws is put under it. The
drawing of the cell tagged ``readme`` is also written beside the notebook as a PNG for the README.
"""

from __future__ import annotations

import ast
import base64
import contextlib
import io
import json
import os
import sys
from pathlib import Path
from typing import Any

# Small systems: threads of linear algebra would only wait for each other. Before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt
from matplotlib.figure import Figure
from PIL import Image

DPI, COLOURS = 90, 64
PICTURE = "image/png"

Output = dict[str, Any]


def source_of(cell: dict[str, Any]) -> str:
    """The text of a cell, which a notebook may keep as a list of lines."""
    return "".join(cell["source"])


def run_cells(notebook: dict[str, Any], space: dict[str, Any] | None = None) -> list[list[Output]]:
    """Run every code cell in order in a namespace; the outputs of each, as nbformat 4 keeps them."""
    space = {"__name__": "__main__"} if space is None else space
    found = []
    for number, cell in enumerate(code_cells(notebook), 1):
        found.append(_run(source_of(cell), space, number))
    return found


def code_cells(notebook: dict[str, Any]) -> list[dict[str, Any]]:
    """The code cells of a notebook."""
    return [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]


def _run(source: str, space: dict[str, Any], number: int) -> list[Output]:
    tree = ast.parse(source, f"cell {number}")
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    printed, value = io.StringIO(), None
    with contextlib.redirect_stdout(printed):
        exec(compile(tree, f"cell {number}", "exec"), space)
        if last is not None:
            value = eval(compile(ast.Expression(last.value), f"cell {number}", "eval"), space)
    outputs: list[Output] = []
    if printed.getvalue():
        outputs.append({"output_type": "stream", "name": "stdout", "text": _lines(printed.getvalue())})
    if value is not None:
        data = _shown(value)
        outputs.append(
            {"output_type": "execute_result", "execution_count": number, "metadata": {}, "data": data}
        )
    for open_figure in map(plt.figure, plt.get_fignums()):
        if open_figure is not value:
            outputs.append({"output_type": "display_data", "metadata": {}, "data": _shown(open_figure)})
    plt.close("all")
    return outputs


def _shown(value: Any) -> dict[str, Any]:
    """What a notebook would show of a value: plain text, and a table or a picture where it has one."""
    if isinstance(value, Figure):
        out = io.BytesIO()
        value.savefig(out, format="png", dpi=DPI, bbox_inches="tight")
        small = io.BytesIO()
        Image.open(out).convert("RGB").quantize(COLOURS).save(small, format="png", optimize=True)
        picture = base64.b64encode(small.getvalue()).decode("ascii")
        return {PICTURE: picture, "text/plain": ["<Figure>"]}
    data = {"text/plain": _lines(repr(value))}
    as_html = getattr(value, "_repr_html_", None)
    if as_html is not None:
        data["text/html"] = _lines(as_html())
    return data


def _lines(text: str) -> list[str]:
    return text.splitlines(keepends=True)


def remake(path: Path) -> None:
    """Run a notebook and write its outputs, and its picture for the README."""
    notebook = json.loads(path.read_text(encoding="utf-8"))
    cells = code_cells(notebook)
    for number, (cell, outputs) in enumerate(zip(cells, run_cells(notebook), strict=True), 1):
        cell["execution_count"], cell["outputs"] = number, outputs
        if "readme" in cell["metadata"].get("tags", ()):
            picture = next(o["data"][PICTURE] for o in outputs if PICTURE in o.get("data", {}))
            path.with_suffix(".png").write_bytes(base64.b64decode(picture))
    text = json.dumps(notebook, ensure_ascii=False, indent=1)
    path.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    here = Path(__file__).resolve().parent
    for chosen in map(Path, sys.argv[1:]) if sys.argv[1:] else sorted(here.glob("*.ipynb")):
        remake(chosen)
        print(f"made again: {chosen.name}")
