"""A new walk over an older track file."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.course.track_merge import kept_only, merge, with_known_corners
from lapkit.course.types import GeoCorner, GeoMarker, MarkerKind, Track, Turn


def test_a_new_walk_keeps_what_the_old_file_knew(recorder, made, draw, recorder_of, full):
    old = made(full(recorder)).track
    kept = {"type": "Feature", "properties": {"role": "grandstand"}, "geometry": None}
    old.markers[0].properties["paint"] = "two stripes"
    old = type(old)(**{**vars(old), "unknown": (kept,), "members": {"title": "ours"}})
    again = recorder_of(draw)
    again.record("centre", again.lap(), 0.0)
    begin = draw.bend_at["1"]
    again.mark("1 turn-in", begin - 5.0, -5.5)
    again.mark("3 apex", 400.0, 5.5)
    merged = merge(old, made(again).track)
    assert merged.unknown == (kept,) and merged.members == {"title": "ours"}
    assert [c.name for c in merged.corners] == ["1", "2", "3"]
    assert merged.corners[0].cues == ("look to the exit cone",)
    first = merged.markers[0]
    assert first.camber_deg == -3.0 and first.properties["paint"] == "two stripes"
    assert [first.lon, first.lat] == pytest.approx(draw.positions([begin - 5.0], -5.5)[0])
    assert len(merged.seams) == 1 and len(merged.hazards) == 1 and merged.left_edge is not None


def test_what_the_old_file_alone_has_is_named(recorder, made, recorder_of, draw, full):
    old = made(full(recorder)).track
    again = recorder_of(draw)
    again.record("centre", again.lap(), 0.0)
    again.cones("1")
    kept = kept_only(old, made(again).track)
    assert "corner 2" in kept and not any(name.startswith("corner 1") for name in kept)
    assert "seam 1" in kept
    assert not any(name.startswith("2 ") for name in kept)
    assert kept_only(old, old) == []


KNOWN = Track(
    "old.geojson",
    "",
    centre_width_m=11.0,
    corners=(GeoCorner("1", Turn.LEFT, camber_deg=2.0, target_lane=2, cues=("wait",)),),
    markers=(GeoMarker("1", "apex", MarkerKind.APEX, Turn.LEFT, 8.0, 47.0, -3.0, 0.5),),
    pit_lanes=({"type": "Feature", "properties": {"role": "pit_lane"}, "geometry": None},),
)


def test_what_a_new_walk_does_not_say_stays_and_what_it_says_holds():
    silent = replace(
        KNOWN,
        centre_width_m=None,
        corners=(GeoCorner("1", Turn.RIGHT),),
        markers=(GeoMarker("1", "apex", MarkerKind.APEX, Turn.RIGHT, 8.1, 47.1),),
        pit_lanes=(),
    )
    kept = merge(KNOWN, silent)
    assert kept.corners[0] == replace(KNOWN.corners[0], turn=Turn.RIGHT)
    assert kept.markers[0] == replace(KNOWN.markers[0], side=Turn.RIGHT, lon=8.1, lat=47.1)
    assert (kept.centre_width_m, kept.pit_lanes) == (11.0, KNOWN.pit_lanes)
    spoken = replace(
        KNOWN,
        centre_width_m=9.0,
        corners=(GeoCorner("1", Turn.LEFT, camber_deg=0.0, target_lane=3, cues=("look",)),),
        markers=(replace(KNOWN.markers[0], camber_deg=0.0, pass_within_m=1.5),),
        pit_lanes=({"type": "Feature"},),
    )
    changed = merge(KNOWN, spoken)
    assert changed.corners == spoken.corners and changed.markers == spoken.markers
    assert (changed.centre_width_m, changed.pit_lanes) == (9.0, spoken.pit_lanes)


def test_a_seam_of_a_corner_without_cones_is_freed(recorder, made):
    recorder.record("centre", recorder.lap(), 0.0)
    recorder.record("7 seam 1", np.arange(100.0, 200.0, 1.4), 2.0)
    recorder.mark("7 hazard post", 150.0, 9.0)
    track, freed = with_known_corners(made(recorder).track)
    assert track.seams[0].corner == track.hazards[0].corner == ""
    assert freed == (
        "corner 7 of seam 1, which has no cones",
        "corner 7 of hazard 'post', which has no cones",
    )
