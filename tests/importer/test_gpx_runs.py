"""Points written alike, read many at once, against the XML parser alone: a comment at the top makes it do all."""

import numpy as np
import pytest

from lapkit.importer import gpx, gpx_runs, read_log
from lapkit.importer.gpx_pattern import pattern_of

POINT = (
    '<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{ele:.2f}</ele><time>2031-06-14T09:{m:02d}:{s:02d}.{t:03d}Z</time>'
    "<extensions><r:speed>{v:.2f}</r:speed><r:course>{c:.1f}</r:course></extensions></trkpt>"
)
TOP = '<gpx xmlns:r="urn:r"><trk><trkseg>\n'
END = "</trkseg></trk></gpx>"


def points(count, form=POINT, between="\n"):
    rng = np.random.default_rng(4)
    at = np.cumsum(rng.normal(size=(count, 2)) * 1e-5 + 1e-5, axis=0)
    rows = [
        form.format(lat=41 + y, lon=-33 + x, ele=20 + x, m=i // 600, s=i // 10 % 60, t=i % 10 * 100,
                    v=10 + i / 250, c=i / 7 % 360)
        for i, (x, y) in enumerate(at)
    ]  # fmt: skip
    return [row + between for row in rows]


@pytest.fixture
def both(tmp_path, monkeypatch):
    """A text read with runs of points and without, and how many points came in runs."""

    def read(text):
        added = []
        add = gpx_runs.RunReader._add

        def counted(self, pattern, values):
            before = len(self._points.lat)
            done = add(self, pattern, values)
            added.append(len(self._points.lat) - before)
            return done

        monkeypatch.setattr(gpx_runs.RunReader, "_add", counted)
        (tmp_path / "runs.gpx").write_text(text)
        with_runs = read_log(tmp_path / "runs.gpx")
        in_runs = sum(added)
        (tmp_path / "parser.gpx").write_text(f"<!-- -->{text}")
        plain = read_log(tmp_path / "parser.gpx")
        assert sum(added) == in_runs
        return with_runs, plain, in_runs

    return read


def same(one, other):
    for name in ("time_s", "lat_deg", "lon_deg", "speed_mps", "heading_deg", "height_m", "hdop"):
        mine, theirs = getattr(one, name), getattr(other, name)
        assert (mine is None) == (theirs is None)
        if mine is not None:
            np.testing.assert_array_equal(mine, theirs)
    assert one.notes == other.notes
    assert [(d.reason, d.count) for d in one.dropped] == [
        (d.reason, d.count) for d in other.dropped
    ]


@pytest.mark.parametrize("between", ["\n", "", "\r\n  "])
def test_a_file_of_several_chunks_is_read_in_runs(both, between):
    one, other, in_runs = both(TOP + "".join(points(4000, between=between)) + END)
    same(one, other)
    assert len(one) == 4000
    assert in_runs > 3980


def test_points_written_otherwise_keep_their_place(both):
    rows = points(900)
    rows[300] = (
        rows[300]
        .replace("<ele>", "<ele><!-- -->".replace("<!-- -->", ""))
        .replace("r:speed", "r:other")
    )
    rows[500] = rows[500].replace("<extensions>", "<hdop>1.5</hdop><extensions>")
    rows[600] = "</trkseg><trkseg>" + rows[600].replace('lat="', "lat='").replace('" lon', "' lon")
    one, other, in_runs = both(TOP + "".join(rows) + END)
    same(one, other)
    assert len(one) == 900
    assert np.flatnonzero(np.isnan(one.speed_mps)).tolist() == [300]
    assert in_runs >= 890


@pytest.mark.parametrize(
    ("at", "text"),
    [
        (5, "often"),
        (500, "&#49;2"),
        (500, "1_0"),
        (500, "nan"),
        (500, "\N{ARABIC-INDIC DIGIT THREE}"),
    ],
)
def test_values_that_are_no_plain_numbers_are_read_as_the_parser_reads_them(both, at, text):
    rows = points(700)
    start = rows[at].index("<ele>") + 5
    rows[at] = rows[at][:start] + text + rows[at][rows[at].index("</ele>") :]
    same(*both(TOP + "".join(rows) + END)[:2])


def test_words_for_the_kind_of_fix_are_read_as_the_parser_reads_them(both):
    form = POINT.replace("<extensions>", "<fix>3d</fix><extensions>")
    one, other, _ = both(TOP + "".join(points(50, form)) + END)
    same(one, other)
    assert one.fix_quality.tolist() == other.fix_quality.tolist() == [1.0] * 50


@pytest.mark.parametrize("hidden", ["<!-- {} -->", "<desc><![CDATA[{}]]></desc>", "<?x {} ?>"])
def test_points_in_a_comment_are_none(both, hidden):
    rows = points(400)
    one, other, _ = both(TOP + "".join(rows[:200]) + hidden.format("".join(rows[200:])) + END)
    same(one, other)
    assert len(one) == 200


@pytest.mark.parametrize("chunk_bytes", [7, 64, 257, 1000])
@pytest.mark.parametrize("hidden", ["", "<!-- {} -->", "<desc><![CDATA[{}]]></desc>", "<?x {} ?>"])
def test_points_are_the_same_wherever_the_file_is_cut_into_pieces(
    both, monkeypatch, chunk_bytes, hidden
):
    monkeypatch.setattr(gpx, "_CHUNK_BYTES", chunk_bytes)
    rows = points(60)
    rows[20] = rows[20].replace("<ele>", "<hdop>1.5</hdop><ele>")
    rows[30] = "</trkseg></trk><trk><trkseg>" + rows[30]
    one, other, in_runs = both(
        TOP + "".join(rows[:50]) + hidden.format("".join(rows[50:])) + "".join(rows[58:]) + END
    )
    same(one, other)
    assert len(one) == 52
    assert in_runs >= 20


@pytest.mark.parametrize(
    "damage", ["<", "</gpx", "<a b=", '<a b=">', "&", "</trkseg></trk></gpx>", "\0"]
)
def test_what_comes_before_damage_is_kept_and_where_it_is_is_told(both, damage):
    rows = points(3000)
    one, other, _ = both(TOP + "".join(rows[:1700]) + damage + "".join(rows[1700:]) + END)
    same(one, other)
    assert "line 170" in one.notes[0]


@pytest.mark.parametrize("chunk_bytes", [256 * 1024, 1000])
@pytest.mark.parametrize(("before", "behind"), [(END, ""), ("<desc ", f"/>{END}")])
def test_what_is_broken_does_not_become_sound_where_runs_are_cut_out(
    both, monkeypatch, chunk_bytes, before, behind
):
    """Points behind the end of the root, and points within a tag: without them nothing would be wrong."""
    monkeypatch.setattr(gpx, "_CHUNK_BYTES", chunk_bytes)
    rows = points(300)
    one, other, _ = both(TOP + "".join(rows[:200]) + before + "".join(rows[200:]) + behind)
    same(one, other)
    assert len(one) == 200 and one.breaks_off
    assert "line 20" in one.notes[0]


def test_points_that_never_end_are_read_in_time(both):
    rows = [f'<trkpt lat="41.1" lon="2.{i:06d}"/>' for i in range(20_000)]
    one, other, in_runs = both(TOP + "".join(points(3)) + "".join(rows) + END)
    same(one, other)
    assert in_runs < 3


def test_a_pattern_needs_one_value_for_each_channel():
    twice = b'<trkpt lat="1" lon="2"><speed>3</speed><course>9</course><speed>4</speed></trkpt>'
    assert pattern_of(twice) is None
    assert pattern_of(b"<trkpt lat='1' lon='2'><ele>3</ele></trkpt>") is None
    assert pattern_of(b'<trkpt lat="1" lon="2"><time> </time></trkpt>') is None
