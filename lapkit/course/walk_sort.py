"""Sorting a walk: what its names mean, with all visits of one place and all passes of one line together."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field, replace

import numpy as np

from lapkit.course.plane import Plane, middle_deg
from lapkit.course.walk_corners import Visited
from lapkit.course.walk_description import Described, merged, read_description
from lapkit.course.walk_file import Recorded, WalkFile, Waypoint
from lapkit.course.walk_lines import FARTHEST_M, Pass, strides
from lapkit.course.walk_spots import STRAY_M, gather, standing
from lapkit.course.walk_words import LINES, Named, Thing, lacks_corner, meant, read_name
from lapkit.errors import TrackError


@dataclass(eq=False)
class Sorted:
    """The contents of a walk by what they mean.

    Attributes:
        plane: the plane of all places.
        places: the named places, each averaged over its visits.
        passes: the recordings of each line.
        remarks: sentences about what was made and assumed; later steps add theirs.
        unread: what could not be read; later steps add to it.
        spelling: each corner's name in lower case, and as it was spelt the first time.
    """

    plane: Plane
    places: list[Visited] = field(default_factory=list)
    passes: dict[Named, list[Pass]] = field(default_factory=lambda: defaultdict(list))
    remarks: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)
    spelling: dict[str, str] = field(default_factory=dict)

    def read(self, name: str) -> Named | None:
        """What a name means, with its corner spelt as it was the first time; None when it means nothing known."""
        named = read_name(name)
        if named is None or not named.corner:
            return named
        return replace(named, corner=self.spelling.setdefault(named.corner.lower(), named.corner))


def sort_walk(walk: WalkFile) -> Sorted:
    """Read every name; gather visits of the same place and passes of the same line.

    Raises:
        TrackError: no name could be read, or a waypoint lies where nobody walks to.
    """
    at = [(w.lon_deg, w.lat_deg) for w in walk.waypoints]
    at += [(float(t.lon_deg[0]), float(t.lat_deg[0])) for t in walk.tracks]
    lon, lat = middle_deg(np.array(at))
    found = Sorted(Plane(lat, lon))
    for named, waypoints in _numbered_and_named(found, _visits(found, walk)).items():
        found.places.append(_visited(found, named, waypoints, walk.tracks))
    for track in walk.tracks:
        _sort_track(found, track)
    _join_lettered(found)
    if not found.places and not found.passes:
        raise _nothing_found(found, walk)
    return found


def _visits(found: Sorted, walk: WalkFile) -> dict[Named, list[Waypoint]]:
    """The waypoints whose name, or else the first words of whose description, mean a place, by what they mean."""
    visits: dict[Named, list[Waypoint]] = defaultdict(list)
    unknown: Counter[str] = Counter()
    for marked in walk.waypoints:
        _check_near(found.plane, marked, walk.source)
        waypoint = marked
        named = _place_named(found, waypoint)
        if named is None:
            waypoint = _by_description(marked)
            named = _place_named(found, waypoint)
        if named is None:
            unknown[marked.name] += 1
        else:
            visits[replace(named, side=None)].append(waypoint)
    found.unread.extend(_not_known("waypoint", name, times) for name, times in unknown.items())
    return visits


def _nothing_found(found: Sorted, walk: WalkFile) -> TrackError:
    """The error for a walk without any place or line."""
    if found.remarks:
        known = [*found.remarks, *(f"not read: {name}" for name in found.unread)]
        return TrackError(
            f"there is nothing in it to make a track of ({'; '.join(known[:5])})",
            where=walk.source,
            remedy="Walk along each line while it is recorded, and mark the cones.",
        )
    names = [w.name for w in walk.waypoints] + [t.name for t in walk.tracks]
    return TrackError(
        f"none of its {len(names)} names could be read ({', '.join(map(repr, names[:5]))})",
        where=walk.source,
        remedy='Name waypoints like "3 turn-in", "3 apex", "3 exit", "start left"; tracks like '
        '"centre", "left edge".',
    )


def _place_named(found: Sorted, waypoint: Waypoint) -> Named | None:
    """The place that a waypoint's name means; None when it means none."""
    named = found.read(waypoint.name)
    return None if named is None or (named.thing in LINES and not named.letter) else named


def _by_description(waypoint: Waypoint) -> Waypoint:
    """The waypoint named by the first words of its description, since many receivers number what is marked."""
    name, _, rest = waypoint.description.replace("\n", ";").partition(";")
    return replace(waypoint, name=name.strip(), description=rest)


def _numbered_and_named(
    found: Sorted, visits: dict[Named, list[Waypoint]]
) -> dict[Named, list[Waypoint]]:
    """The visits, with those of "corner 3 Hairpin" put to corner 3 when all its cones call it by its number."""
    coned = {named.corner for named in visits if named.thing is Thing.MARKER}
    kept: dict[Named, list[Waypoint]] = defaultdict(list)
    for named, listed in visits.items():
        own = named
        number = named.corner.partition(" ")[0]
        if named.thing is Thing.CORNER and named.corner not in coned and number in coned:
            found.remarks.append(
                f"corner {named.corner}: taken for corner {number}, as its cones are named"
            )
            own = replace(named, corner=number)
        kept[own] += listed
    return kept


def _not_known(what: str, name: str, times: int = 1) -> str:
    """The line about a waypoint or track whose name could not be read, with what may have been meant."""
    often = f", {times} times" if times > 1 else ""
    named = read_name(name)
    if named is not None and named.thing in LINES:
        return f"{what} {name!r}{often}. A line of waypoints is lettered: {name + ' a'!r}, {name + ' b'!r}"
    if lacks_corner(name):
        return f"{what} {name!r}{often}. Of which corner? Name it like {'3 ' + name!r}"
    near = meant(name)
    return f"{what} {name!r}{often}" + (f". Did you mean {near!r}?" if near else "")


def _check_near(plane: Plane, waypoint: Waypoint, source: str) -> None:
    """Raise a TrackError when a waypoint lies further away than anybody walks."""
    away_m = float(np.hypot(*plane.to_xy(waypoint.lat_deg, waypoint.lon_deg)))
    if not away_m <= FARTHEST_M:
        raise TrackError(
            f"waypoint {waypoint.name!r} is {away_m / 1000:.0f} km from the rest of the walk",
            where=source,
            remedy="Take it out, or mend its position.",
        )


def _visited(
    found: Sorted, named: Named, listed: list[Waypoint], tracks: tuple[Recorded, ...]
) -> Visited:
    """One place, averaged over its visits, with what their descriptions say."""
    said = []
    for waypoint in listed:
        said.append(_said(found, waypoint))
        found.unread.extend(f"in {waypoint.name!r}: {clause}" for clause in said[-1].unread)
    spot = gather(np.array([standing(found.plane, waypoint, tracks) for waypoint in listed]))
    if spot.spread_m is not None and spot.spread_m > STRAY_M:
        found.unread.append(
            f"{listed[0].name!r} as one place: its {spot.visits} visits lie {spot.spread_m:.0f} m from their "
            "middle. If two places bear this name, name one of them otherwise"
        )
    if spot.strays:
        found.remarks.append(
            f"{listed[0].name}: {spot.strays} of {len(listed)} visits lay far from the others and "
            "were left out"
        )
    return Visited(named, spot, merged(said))


def _said(found: Sorted, waypoint: Waypoint) -> Described:
    """What a waypoint's description says, with the left or right in its name where the description says neither."""
    said, named = read_description(waypoint.description), found.read(waypoint.name)
    if named is None or named.side is None:
        return said
    if named.thing is Thing.CORNER:
        return replace(said, turn=said.turn or named.side)
    return replace(said, side=said.side or named.side)


def _sort_track(found: Sorted, track: Recorded) -> None:
    """Put a recorded track to the passes of its line, or say why not."""
    named = found.read(track.name)
    if named is not None and named.thing is Thing.TRAIL:
        # It only shows where the walker went, and where he stood still, which has been used already.
        found.remarks.append(f"{track.name}: your own trail")
        return
    if named is None or named.thing not in (*LINES, Thing.HAZARD):
        found.unread.append(_not_known("track", track.name))
        return
    x, y = found.plane.to_xy(track.lat_deg, track.lon_deg)
    walked = strides(x, y, track.height_m)
    if named.thing in LINES and len(walked.x_m) < 2:
        # It was started and stopped by mistake: one place makes no line.
        found.remarks.append(f"{track.name}: a recording stands in one place and was left out")
        return
    found.passes[named].append(walked)


def _join_lettered(found: Sorted) -> None:
    """Turn the waypoints of a line ("3 seam 1 a", "3 seam 1 b", ...) into a pass along it."""
    lines: dict[Named, list[Visited]] = defaultdict(list)
    for place in found.places:
        if place.named.thing in LINES:
            lines[replace(place.named, letter="")].append(place)
    for named, listed in lines.items():
        listed.sort(key=lambda place: place.named.letter)
        x, y = np.array([(p.spot.x_m, p.spot.y_m) for p in listed]).T
        if len(listed) < 2:
            found.unread.append(f"{title(named)}: a line needs two waypoints, a and b")
        else:
            found.passes[named].append(Pass(x, y, np.full(len(x), np.nan), drawn=True))


def title(named: Named) -> str:
    """The name of a line in messages."""
    what = named.name or named.thing.value.replace("_", " ")
    return f"{named.corner} {what}".strip()
