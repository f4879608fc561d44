"""From a track file to the course: everything where it was drawn, and what is missing found or refused."""

import numpy as np
import pytest

from lapkit.course import place, read_track
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn
from lapkit.errors import TrackError


def of_role(features, *roles):
    return [f for f in features if f["properties"]["role"] in roles]


def without(features, *roles):
    return [f for f in features if f["properties"]["role"] not in roles]


def placed(write, features):
    return place(read_track(write(features)))


def test_everything_stands_where_it_was_drawn(write, features, draw):
    course = placed(write, features)
    assert course.closed and not course.found
    assert course.reference.length_m == pytest.approx(draw.lap_m, abs=0.2)
    assert [c.name for c in course.corners] == ["1", "2"]
    for corner in course.corners:
        begin = draw.bend_at[corner.name]
        assert corner.turn is Turn.LEFT and corner.cues == ("look to the exit cone",)
        assert corner.turn_in_m == pytest.approx(begin - 10.0, abs=0.3)
        assert corner.apexes_m[0] == pytest.approx(begin + 0.55 * np.pi * 40.0, abs=0.3)
        assert corner.exit_m == pytest.approx(begin + np.pi * 40.0 + 15.0, abs=0.3)
        offsets = [marker.offset_m for marker in corner.markers]
        assert offsets == pytest.approx([-5.5, 5.5, -5.5], abs=0.05)
        assert [s.name for s in corner.seams] == ["first seam", "second seam"]
        at = np.linspace(corner.turn_in_m, corner.exit_m, 9)
        assert corner.seams[0].offset_at(at) == pytest.approx(2.0, abs=0.05)
        assert corner.camber_at(at) == pytest.approx(2.0)
    left, right = course.edges_at(np.linspace(0.0, 2.0 * draw.lap_m, 50))
    assert left == pytest.approx(6.0, abs=0.05)
    assert right == pytest.approx(-6.0, abs=0.05)
    assert course.hold_points.shape == (1, 2) and course.pit_lanes[0].shape == (11, 2)
    assert course.corners[0].hazards == ("kerb sticks out",)


def test_a_corner_across_the_start_of_stations(write, features, draw):
    lap = np.linspace(0.0, draw.lap_m, 141) + draw.bend_at["1"] + 60.0
    moved = [draw.line("centre", np.mod(lap, draw.lap_m)), *without(features, "centre")]
    course = placed(write, moved)
    first, across = course.corners
    assert (first.name, across.name) == ("2", "1")
    assert 0.0 <= across.turn_in_m < course.reference.length_m < across.apexes_m[0] < across.exit_m
    stations = [marker.station_m for marker in across.markers]
    assert stations == sorted(stations)
    assert [len(c.seams) for c in course.corners] == [2, 2]
    assert across.seams[0].station_m[0] <= across.turn_in_m
    assert across.seams[0].station_m[-1] >= across.exit_m


def test_a_seam_without_corner_serves_only_where_it_runs(write, features, draw):
    begin = draw.bend_at["2"]
    short = draw.line("seam", np.linspace(begin, begin + 160.0, 40), 1.0, name="patch")
    course = placed(write, [*without(features, "seam"), short])
    assert [[s.name for s in c.seams] for c in course.corners] == [[], ["patch"]]


def test_a_seam_that_names_its_corner_serves_that_one(write, features):
    for seam in of_role(features, "seam")[:1]:
        seam["properties"]["corner"] = "2"
    course = placed(write, features)
    assert [[s.name for s in c.seams] for c in course.corners] == [
        ["second seam"],
        ["first seam", "second seam"],
    ]


def test_seams_of_a_right_hander_count_from_its_inside(write, features, draw):
    for role in ("centre", "left_edge", "right_edge", "seam"):
        for line in of_role(features, role):
            line["geometry"]["coordinates"].reverse()
            if role != "centre" and role != "seam":
                line["properties"]["role"] = "other_edge"
    for corner in of_role(features, "corner"):
        corner["properties"]["turn"] = "right"
    kinds = {"turn_in": "exit", "exit": "turn_in", "apex": "apex"}
    for marker in of_role(features, "marker"):
        marker["properties"]["kind"] = kinds[marker["properties"]["kind"]]
    course = placed(write, features)
    assert [s.name for s in course.corners[0].seams] == ["first seam", "second seam"]
    assert course.corners[0].seams[0].offset_m.mean() == pytest.approx(-2.0, abs=0.1)


def test_without_edges_the_width_of_the_centre_tells_where_they_are(write, features):
    bare = without(features, "left_edge", "right_edge")
    left, right = placed(write, bare).edges_at(np.array([0.0, 100.0]))
    assert left == pytest.approx([6.0, 6.0]) and right == pytest.approx([-6.0, -6.0])
    (centre,) = of_role(bare, "centre")
    del centre["properties"]["width_m"]
    assert placed(write, bare).edges_at(np.array([0.0])) is None


def test_without_a_centre_the_middle_of_the_edges_serves(write, features, draw):
    course = placed(write, without(features, "centre"))
    assert course.reference.length_m == pytest.approx(draw.lap_m, abs=0.3)
    left, right = course.edges_at(np.arange(0.0, draw.lap_m, 5.0))
    assert left == pytest.approx(6.0, abs=0.1) and right == pytest.approx(-6.0, abs=0.1)


def test_with_one_edge_the_other_mirrors_it(write, features, draw):
    course = placed(write, without(features, "right_edge"))
    left, right = course.edges_at(np.arange(0.0, draw.lap_m, 5.0))
    assert right == pytest.approx(-left)


def test_an_edge_walked_in_part_is_filled_with_its_usual_offset(write, features, draw):
    part = draw.line("left_edge", np.linspace(0.0, 0.6 * draw.lap_m, 90), 6.0)
    course = placed(write, [*without(features, "left_edge"), part])
    left, _ = course.edges_at(np.arange(0.0, draw.lap_m, 5.0))
    assert left == pytest.approx(6.0, abs=0.05)


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("share", [0.0, 0.25, 0.4, 0.6, 0.9])
def test_the_left_end_is_the_riders_left_wherever_he_heads(write, features, draw, share, flip):
    """On a loop ridden to the left his left is the inner side, all the way round."""
    at = [share * draw.lap_m]
    ends = draw.positions(at, 8.0) + draw.positions(at, -8.0)
    start = draw.feature("start_line", "LineString", ends[::-1] if flip else ends)
    course = placed(write, [*without(features, "start_line"), start])
    _, offset = course.reference.project(*course.start_line.T)
    assert offset == pytest.approx([8.0, -8.0], abs=0.05)


def test_without_a_start_line_it_lies_across_the_longest_straight(write, features, draw):
    course = placed(write, without(features, "start_line"))
    x, y = course.start_line.mean(axis=0)
    station, offset = course.reference.project(x, y)
    half = draw.lap_m / 2
    assert min(station % half, half - station % half) < 8.0
    assert abs(offset) < 0.1
    assert np.hypot(*(course.start_line[0] - course.start_line[1])) == pytest.approx(18.0, abs=0.2)


@pytest.mark.parametrize("kind", ["turn_in", "apex", "exit"])
def test_a_missing_cone_is_estimated_from_the_curvature(write, features, draw, kind):
    kept = [
        f
        for f in features
        if (f["properties"].get("corner"), f["properties"].get("kind")) != ("1", kind)
    ]
    corner = placed(write, kept).corner("1")
    begin, end = draw.bend_at["1"], draw.bend_at["1"] + np.pi * 40.0
    if kind == "turn_in":
        assert corner.turn_in_m == pytest.approx(begin, abs=8.0)
    elif kind == "exit":
        assert corner.exit_m == pytest.approx(end, abs=8.0)
    else:
        assert begin - 8.0 < corner.apexes_m[0] < end + 8.0
    assert corner.turn_in_m < corner.apexes_m[0] < corner.exit_m


def test_a_corner_without_cones_is_left_out(write, features):
    features.append(
        {
            "type": "Feature",
            "properties": {"role": "corner", "name": "9", "turn": "left"},
            "geometry": None,
        }
    )
    assert [c.name for c in placed(write, features).corners] == ["1", "2"]


def test_cones_out_of_order_are_refused(write, features):
    kinds = {"turn_in": "apex", "apex": "turn_in", "exit": "exit"}
    for marker in of_role(features, "marker"):
        if marker["properties"]["corner"] == "2":
            marker["properties"]["kind"] = kinds[marker["properties"]["kind"]]
    with pytest.raises(TrackError, match=r"corner '2': its cones are not in the order"):
        placed(write, features)


def test_a_track_without_any_line_cannot_be_placed(write, features):
    bare = without(features, "centre", "left_edge", "right_edge")
    with pytest.raises(TrackError, match="neither a centre"):
        placed(write, bare)


def test_a_marker_line_is_given_or_absent(write, features, draw):
    course = placed(write, features)
    assert course.marker_line is None and course.marker_line_from == "none"
    at = np.linspace(0.0, draw.lap_m, 200)
    drawn = placed(write, [*features, draw.line("marker_line", at, -3.0)])
    assert drawn.marker_line_from == "given"
    assert drawn.marker_line.length_m == pytest.approx(draw.lap_m + 6.0 * np.pi, abs=0.2)


def test_heights_give_the_grade(write, features, draw):
    at = np.linspace(0.0, draw.lap_m, 141)
    height = 400.0 + 5.0 * np.sin(2.0 * np.pi * at / draw.lap_m)
    lifted = draw.line("centre", np.mod(at, draw.lap_m), 0.0, height)
    course = placed(write, [lifted, *without(features, "centre")])
    grade, bend = course.profile.at(np.array([0.0, draw.lap_m / 4, 1.25 * draw.lap_m]))
    wave = 2.0 * np.pi / draw.lap_m
    assert grade == pytest.approx([5.0 * wave, 0.0, 0.0], abs=1e-3)
    assert bend[1:] == pytest.approx(-5.0 * wave**2, rel=0.05)


def test_an_open_course_starts_at_its_start(write, draw):
    at = np.linspace(0.0, 300.0, 40)
    course = placed(write, [draw.line("centre", at)])
    assert not course.closed and course.corners == () and course.profile is None
    assert course.start_line.mean(axis=0) == pytest.approx(np.array(course.reference.at(0.0)))


def test_a_loop_across_the_antimeridian(write, features, draw):
    for f in features:
        if f["geometry"] is not None and f["geometry"]["type"] == "LineString":
            for position in f["geometry"]["coordinates"]:
                position[0] = (position[0] - 8.0 + 180.0 + 180.0) % 360.0 - 180.0
        elif f["geometry"] is not None:
            position = f["geometry"]["coordinates"]
            position[0] = (position[0] - 8.0 + 180.0 + 180.0) % 360.0 - 180.0
    course = placed(write, features)
    assert course.reference.length_m == pytest.approx(draw.lap_m, abs=0.2)
    assert [c.name for c in course.corners] == ["1", "2"]


def hairpin(draw, gap_m):
    """A track of two straights that run back side by side, with a wide loop at one end only."""
    far, half = 300.0, 0.5 * gap_m
    arc = np.linspace(-np.pi / 2, np.pi / 2, 12)
    back = np.linspace(np.pi / 2, 1.5 * np.pi, 40)
    run = np.linspace(0.0, far, 60)[1:-1]
    x = np.concatenate([run, far + half * np.cos(arc), run[::-1], -20.0 + 40.0 * np.cos(back)])
    y = np.concatenate([0 * run - half, half * np.sin(arc), 0 * run + half, 40.0 * np.sin(back)])
    x, y = np.append(x, x[0]), np.append(y, y[0])
    lat, lon = draw.plane.to_lat_lon(x, y)
    return draw.feature("centre", "LineString", np.stack([lon, lat], axis=-1).tolist())


def in_hairpin(write, draw, at):
    """The corner of a hairpin with cones on the rider's left at places, metres, by their kinds."""
    features = [hairpin(draw, 14.0), draw.feature("corner", name="1", turn="left")]
    for kind, stands_at in at.items():
        lat, lon = map(float, draw.plane.to_lat_lon(*stands_at))
        cone = {"corner": "1", "kind": kind, "side": "left", "name": kind}
        features.append(draw.feature("marker", "Point", [lon, lat], **cone))
    (corner,) = placed(write, features).corners
    return corner


@pytest.mark.parametrize("kinds", [("turn_in", "apex", "exit"), ("turn_in", "exit")])
def test_cones_between_two_legs_belong_to_the_one_that_makes_a_corner(write, draw, kinds):
    """Turn-in and exit stand on the inside of a hairpin, each nearer to the other leg."""
    at = {"turn_in": (270.0, 0.8), "apex": (304.0, 0.0), "exit": (262.0, -0.8)}
    placed_corner = in_hairpin(write, draw, {kind: at[kind] for kind in kinds})
    offsets = {m.name: m.offset_m for m in placed_corner.markers}
    assert offsets["turn_in"] == pytest.approx(7.8, abs=0.2)
    assert offsets["exit"] == pytest.approx(7.8, abs=0.2)
    assert placed_corner.exit_m - placed_corner.turn_in_m == pytest.approx(90.0, abs=5.0)


def test_a_cone_to_be_sighted_stands_beside_the_leg_that_leads_to_its_corner(write, draw):
    """It stands 10 m before the turn-in, nearer to the leg that runs back, which is 60 m past the exit there."""
    at = {
        "turn_in": (240.0, -4.0),
        "apex": (304.0, 0.0),
        "exit": (290.0, 4.0),
        "sight": (230.0, 1.5),
    }
    placed_corner = in_hairpin(write, draw, at)
    sight = next(m for m in placed_corner.markers if m.name == "sight")
    assert sight.station_m - placed_corner.turn_in_m == pytest.approx(-10.0, abs=0.5)
    assert sight.offset_m == pytest.approx(8.5, abs=0.2)


def test_a_corner_at_a_crossing_stays_on_its_leg(write, draw):
    t = np.linspace(0.0, 2.0 * np.pi, 161)
    x = 250.0 * np.cos(t) / (1.0 + np.sin(t) ** 2)
    y = x * np.sin(t)
    line = StationLine.through(x[:-1], y[:-1], True)
    lat, lon = draw.plane.to_lat_lon(x, y)
    features = [
        draw.feature("centre", "LineString", np.stack([lon, lat], axis=-1).tolist()),
        draw.feature("corner", name="1", turn="left"),
    ]
    wanted = 0.25 * line.length_m + np.array([-40.0, 2.0, 60.0])
    for kind, station in zip(("turn_in", "apex", "exit"), wanted, strict=True):
        lat, lon = draw.plane.to_lat_lon(*line.offset_points(station, 4.0))
        place_at = [float(lon), float(lat)]
        features.append(
            draw.feature("marker", "Point", place_at, corner="1", kind=kind, side="left", name=kind)
        )
    (corner,) = placed(write, features).corners
    found = [m.station_m for m in corner.markers]
    assert found == pytest.approx(wanted, abs=1.0)
