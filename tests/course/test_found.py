"""Courses found from simulated rides: what is known of the shape must come out of the noisy log."""

import numpy as np
import pytest

from lapkit.course import found
from lapkit.course.found import course_from_paths
from lapkit.course.plane import Plane
from lapkit.course.rides import Ride
from lapkit.course.stations import StationLine
from lapkit.course.types import Turn
from lapkit.errors import TrackError

PLANE = Plane(47.0, 8.0)


def stadium(straight_m, radius_m):
    """Even points, about one a metre, round a stadium ridden counter-clockwise."""
    arc = np.linspace(-np.pi / 2, np.pi / 2, int(np.pi * radius_m))[:-1]
    half = straight_m / 2
    along = np.arange(-half, half, 1.0)
    x = np.concatenate([along, half + radius_m * np.cos(arc)])
    y = np.concatenate([np.full(len(along), -radius_m), radius_m * np.sin(arc)])
    return np.concatenate([x, -x]), np.concatenate([y, -y])


def ellipse(a_m, b_m):
    t = np.linspace(0.0, 2.0 * np.pi, 2000, endpoint=False)
    return a_m * np.cos(t), b_m * np.sin(t)


def lemniscate(a_m):
    t = np.linspace(0.0, 2.0 * np.pi, 3000, endpoint=False)
    scale = a_m / (1.0 + np.sin(t) ** 2)
    return scale * np.cos(t), scale * np.sin(t) * np.cos(t)


def ride(rng, x, y, speed_mps, rate_hz=1.0, laps=1.0, noise_m=0.0, from_s=0.0, wander_s=8.0):
    """A path along closed points, with a receiver's slow wander as its error."""
    x, y = np.append(x, x[0]), np.append(y, y[0])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    count = int(laps * along[-1] / speed_mps * rate_hz)
    time = from_s + np.arange(count) / rate_hz
    at = np.mod((time - from_s) * speed_mps, along[-1])
    keep = np.exp(-1.0 / (rate_hz * wander_s))
    wander = np.zeros((count, 2))
    for i in range(1, count):
        wander[i] = keep * wander[i - 1] + np.sqrt(1 - keep**2) * rng.normal(0, noise_m, 2)
    east = np.interp(at, along, x) + wander[:, 0]
    north = np.interp(at, along, y) + wander[:, 1]
    return Ride(time, east, north, np.full(count, float(speed_mps)))


def joined(*paths, pause_s=60.0):
    """Paths ridden one after another in the same log, standing still between them."""
    out = [np.array(c) for c in paths[0]]
    for path in paths[1:]:
        shift = out[0][-1] + pause_s - path[0][0]
        still = out[0][-1] + np.arange(1.0, pause_s)
        stand = [still, np.full(len(still), out[1][-1]), np.full(len(still), out[2][-1])]
        stand.append(np.zeros(len(still)))
        out = [np.concatenate([a, b, c]) for a, b, c in zip(out, stand, path, strict=True)]
        out[0][-len(path[0]) :] += shift
    return Ride(*out)


def worst_distance(course, x, y):
    """Largest distance of the found reference from the true points, metres."""
    found = np.stack([course.reference.x_m, course.reference.y_m], axis=-1)
    true = np.stack([x, y], axis=-1)
    return np.max(np.min(np.hypot(*(found[:, None] - true[None]).transpose(2, 0, 1)), axis=1))


def corners_do_not_overlap(course):
    ends = [-1.0]
    for corner in course.corners:
        assert ends[-1] < corner.turn_in_m < corner.apexes_m[0] < corner.exit_m
        ends.append(corner.exit_m)
    return ends[-1] <= course.reference.length_m


@pytest.fixture
def rng():
    return np.random.default_rng(20260601)


@pytest.mark.parametrize("turned", [1, -1], ids=["counter-clockwise", "clockwise"])
def test_a_runner_s_oval_is_found_with_its_two_bends(rng, turned):
    """Two bends, two straights, at 1 Hz and walking-receiver noise, in the direction run."""
    x, y = stadium(84.39, 36.8)
    course = course_from_paths(
        [ride(rng, x[::turned], y[::turned], 4.0, laps=11.4, noise_m=1.5)], PLANE
    )
    assert course.closed and course.found
    assert course.reference.length_m == pytest.approx(400.0, rel=0.02)
    assert [c.name for c in course.corners] == ["1", "2"]
    assert {c.turn for c in course.corners} == {Turn.LEFT if turned == 1 else Turn.RIGHT}
    assert corners_do_not_overlap(course)
    assert worst_distance(course, x, y) < 3.0
    for corner in course.corners:
        apex_x, _ = course.reference.at(corner.apexes_m[0])
        assert abs(apex_x) > 84.39 / 2
        assert corner.exit_m - corner.turn_in_m == pytest.approx(np.pi * 36.8, rel=0.25)


def test_stations_begin_at_the_start_line_on_the_longest_straight(rng):
    x, y = stadium(300.0, 40.0)
    course = course_from_paths([ride(rng, x, y, 25.0, 5.0, laps=4.0, noise_m=0.3)], PLANE)
    line, at = course.start_line, course.reference.at(0.0)
    assert np.allclose(line.mean(axis=0), at, atol=1e-6)
    assert abs(at[0]) < 30.0
    heading = course.reference.heading_at(0.0)
    east, north = line[0] - line[1]
    assert np.cos(heading) * north - np.sin(heading) * east == pytest.approx(30.0, abs=1e-6)


def test_ellipse_has_two_corners_where_it_is_tightest(rng):
    x, y = ellipse(60.0, 40.0)
    course = course_from_paths([ride(rng, x, y, 8.0, 5.0, laps=6.0, noise_m=0.2)], PLANE)
    assert course.reference.length_m == pytest.approx(317.3088, rel=0.01)
    assert len(course.corners) == 2
    for corner in course.corners:
        assert abs(course.reference.at(corner.apexes_m[0])[0]) > 55.0


def test_lemniscate_crosses_itself_and_turns_both_ways(rng):
    x, y = lemniscate(200.0)
    course = course_from_paths([ride(rng, x, y, 20.0, 5.0, laps=5.0, noise_m=0.3)], PLANE)
    assert course.reference.length_m == pytest.approx(5.244115 * 200.0, rel=0.01)
    assert sorted(c.turn for c in course.corners) == [Turn.LEFT, Turn.RIGHT]


def test_a_circle_has_no_straight_and_one_lap(rng):
    t = np.linspace(0.0, 2.0 * np.pi, 1000, endpoint=False)
    course = course_from_paths(
        [ride(rng, 80 * np.cos(t), 80 * np.sin(t), 12.0, 5.0, laps=5.0)], PLANE
    )
    assert course.closed
    assert course.reference.length_m == pytest.approx(2 * np.pi * 80.0, rel=0.005)


def test_the_direction_ridden_most_counts(rng):
    x, y = stadium(200.0, 40.0)
    log = joined(
        ride(rng, x, y, 20.0, 5.0, laps=3.0, noise_m=0.3),
        ride(rng, x[::-1], y[::-1], 20.0, 5.0, laps=6.0, noise_m=0.3),
    )
    course = course_from_paths([log], PLANE)
    assert {c.turn for c in course.corners} == {Turn.RIGHT}
    assert worst_distance(course, x, y) < 1.5


def test_out_lap_pit_visit_and_paddock_are_left_aside(rng):
    x, y = stadium(400.0, 50.0)
    paddock = ride(
        rng,
        30 + 25 * np.cos(np.arange(0, 6.28, 0.1)),
        -120 + 25 * np.sin(np.arange(0, 6.28, 0.1)),
        4.0,
        5.0,
        laps=2.2,
    )
    pit_x, pit_y = np.array(x), np.array(y)
    beside = (pit_y < -45) & (np.abs(pit_x) < 180)
    pit_y[beside] -= 15.0
    log = joined(
        paddock,
        ride(rng, x, y, 30.0, 5.0, laps=3.6, noise_m=0.3),
        ride(rng, pit_x, pit_y, 12.0, 5.0, laps=1.0, noise_m=0.3),
        ride(rng, x, y, 30.0, 5.0, laps=3.3, noise_m=0.3),
    )
    course = course_from_paths([log], PLANE)
    assert course.reference.length_m == pytest.approx(800.0 + 2 * np.pi * 50.0, rel=0.01)
    assert len(course.corners) == 2
    assert worst_distance(course, x, y) < 2.0


def test_several_riders_share_one_course(rng):
    x, y = stadium(300.0, 40.0)
    logs = [
        ride(rng, x, y, speed, 5.0, laps=laps, noise_m=1.0, wander_s=60.0)
        for speed, laps in ((18.0, 3.2), (25.0, 4.4), (30.0, 1.3), (22.0, 0.4))
    ]
    course = course_from_paths(logs, PLANE)
    assert len(course.corners) == 2
    assert worst_distance(course, x, y) < 2.5


def hill_road():
    """An open road with a hairpin and a sweeper, even points about one a metre."""
    heading = np.concatenate(
        [
            np.zeros(300),
            np.linspace(0, np.radians(170), 60),
            np.full(250, np.radians(170)),
            np.linspace(np.radians(170), np.radians(80), 120),
            np.full(300, np.radians(80)),
        ]
    )
    return np.cumsum(np.cos(heading)), np.cumsum(np.sin(heading))


def along_road(rng, x, y, speed_mps, from_s=0.0):
    time = from_s + np.arange(len(x))[:: int(speed_mps / 5)] / speed_mps
    keep = slice(None, None, int(speed_mps / 5))
    shift = rng.normal(0, 0.3, 2)
    return Ride(time, x[keep] + shift[0], y[keep] + shift[1], np.full(len(time), speed_mps))


def test_a_hill_ridden_once_is_an_open_course(rng):
    x, y = hill_road()
    course = course_from_paths([along_road(rng, x, y, 20.0)], PLANE)
    assert not course.closed
    assert course.reference.length_m == pytest.approx(len(x), rel=0.02)
    assert [c.turn for c in course.corners] == [Turn.LEFT, Turn.RIGHT]
    station, _ = course.reference.project(*course.start_line.mean(axis=0))
    assert station == pytest.approx(10.0, abs=0.5)


def test_a_bend_before_the_start_line_of_an_open_course_is_no_corner(rng):
    x, y = hill_road()
    # From the middle of the hairpin on, as where a logger is switched on there.
    begin = int(np.argmax(x))
    course = course_from_paths([along_road(rng, x[begin:], y[begin:], 20.0)], PLANE)
    assert [corner.name for corner in course.corners] == ["1"]
    assert course.corners[0].turn_in_m > found.OPEN_START_M


def test_a_hill_ridden_up_and_down_again_is_the_faster_way(rng):
    x, y = hill_road()
    runs = []
    for _ in range(3):
        runs += [along_road(rng, x, y, 20.0), along_road(rng, x[::-1], y[::-1] + 3.0, 10.0)]
    course = course_from_paths([joined(*runs)], PLANE)
    assert not course.closed
    assert [c.turn for c in course.corners] == [Turn.LEFT, Turn.RIGHT]
    assert course.reference.length_m == pytest.approx(len(x), rel=0.05)


def test_a_way_that_only_meets_itself_again_is_no_lap(rng):
    """Once round and a tenth of it again, then on and away."""
    x, y = stadium(400.0, 90.0)
    round_, east, north, speed = ride(rng, x, y, 12.0, laps=1.1, noise_m=0.5)
    out = np.arange(1.0, 90.0)
    away = (round_[-1] + out, east[-1] + 3.0 * out, north[-1] - 12.0 * out, np.full(89, 12.0))
    parts = zip((round_, east, north, speed), away, strict=True)
    path = Ride(*(np.concatenate(part) for part in parts))
    assert not course_from_paths([path], PLANE).closed
    assert course_from_paths([ride(rng, x, y, 12.0, laps=2.1, noise_m=0.5)], PLANE).closed


def test_hairpin_whose_legs_nearly_touch_keeps_its_legs_apart(rng):
    x, y = stadium(400.0, 6.0)
    course = course_from_paths([ride(rng, x, y, 12.0, 5.0, laps=6.0, noise_m=0.3)], PLANE)
    assert course.reference.length_m == pytest.approx(800.0 + 2 * np.pi * 6.0, rel=0.02)
    assert len(course.corners) == 2
    assert np.hypot(*(course.start_line[0] - course.start_line[1])) < 14.0


@pytest.mark.parametrize("moving", [0.0, 3.0])
def test_nothing_ridden_is_an_error(moving):
    time = np.arange(20.0)
    with pytest.raises(TrackError, match="no ride long enough"):
        course_from_paths([Ride(time, moving * time, 0 * time, np.full(20, moving))], PLANE)


def test_the_course_is_found_from_the_longest_paths(rng, monkeypatch):
    monkeypatch.setattr(found, "MOST_PATHS", 1)
    small = ride(rng, *ellipse(60.0, 40.0), 15.0, laps=3.0)
    large = ride(rng, *ellipse(200.0, 90.0), 15.0, laps=3.0)
    for paths in ([small, large], [large, small]):
        assert course_from_paths(paths, PLANE).reference.length_m == pytest.approx(944.0, rel=0.02)


@pytest.mark.parametrize(("apart_m", "half_m"), [(24.0, 12.0), (6.0, 5.0), (90.0, 15.0)])
def test_a_start_line_ends_halfway_to_another_leg_but_is_never_shorter_than_a_track(
    apart_m, half_m
):
    out, back = np.arange(0.0, 400.0, 4.0), np.arange(400.0, 0.0, -4.0)
    x = np.concatenate([out, back])
    y = np.concatenate([np.zeros(len(out)), np.full(len(back), apart_m)])
    line = StationLine.through(x, y, True)
    left, right = found._start_line(line, 200.0)
    assert np.hypot(*(left - right)) == pytest.approx(2.0 * half_m, abs=0.3)
    assert left[1] > 0.0 > right[1]
