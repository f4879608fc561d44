import pandas as pd

from lapkit.reporter.terminal_line import line_text
from lapkit.units import Units

LINE = {
    "corner": "Hook", "line": "inside", "radius_min_m": 41.26, "exit_radius_min_m": float("nan"), "length_m": 90.0,
}  # fmt: skip


def test_each_line_has_its_radii_under_their_heads():
    title, head, row = line_text(pd.DataFrame([LINE]), "solved", Units.METRIC).splitlines()
    assert title == "Marker line solved; radii held over 10 m."
    at = [head.index(name) for name in ("corner", "line", "tightest", "at the exit", "length")]
    assert [row[i:].split("  ")[0] for i in at] == [
        "Hook", "inside the first seam", "41.3 m", "–", "90.0 m",
    ]  # fmt: skip


def test_a_corner_without_a_seam_has_no_line_inside_one():
    none = LINE | dict.fromkeys(("radius_min_m", "length_m"), float("nan"))
    text = line_text(pd.DataFrame([LINE | {"line": "marker"}, none]), "solved", Units.METRIC)
    assert "marker line" in text and "seam" not in text


def test_feet_have_no_tenths():
    text = line_text(pd.DataFrame([LINE]), "given", Units.US)
    assert "held over 33 ft" in text
    assert "135 ft" in text and "." not in text.splitlines()[2]
