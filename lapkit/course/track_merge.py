"""Putting a new walk into an old track file: what was recorded again is replaced, all else stays."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from lapkit.course.types import GeoCorner, GeoLine, GeoMarker, Hazard, Track

Item = TypeVar("Item")


def merge(old: Track, new: Track) -> Track:
    """The old track, brought up to date with everything that the new one has.

    A line, cone or seam of the same name is replaced; properties that the new one does not give are kept. The cues
    and the camber of a corner stay unless new ones are given. Unknown features and members stay.
    """
    return replace(
        old,
        start_line=_line(old.start_line, new.start_line),
        centre=_line(old.centre, new.centre),
        left_edge=_line(old.left_edge, new.left_edge),
        right_edge=_line(old.right_edge, new.right_edge),
        marker_line=_line(old.marker_line, new.marker_line),
        centre_width_m=new.centre_width_m or old.centre_width_m,
        corners=_joined(old.corners, new.corners, lambda c: c.name, _corner),
        markers=_joined(old.markers, new.markers, lambda m: (m.corner, m.name), _marker),
        seams=_joined(old.seams, new.seams, lambda s: (s.corner, s.name), _line),
        hold_points=_joined(old.hold_points, new.hold_points, lambda p: p.name, _latest),
        base_points=_joined(old.base_points, new.base_points, lambda p: p.name, _latest),
        hazards=_joined(old.hazards, new.hazards, lambda h: (h.corner, h.text), _latest),
        pit_lanes=new.pit_lanes or old.pit_lanes,
        members=new.members | old.members,
    )


def kept_only(old: Track, new: Track) -> list[str]:
    """Corners, cones and seams of the old track that the new one does not name, as messages call them.

    Cones and seams of a corner that is listed itself are not listed again.
    """
    new_corners = {corner.name for corner in new.corners}
    kept_corners = [corner.name for corner in old.corners if corner.name not in new_corners]

    def kept(
        before: Sequence[GeoMarker | GeoLine], after: Sequence[GeoMarker | GeoLine]
    ) -> list[str]:
        named = {(item.corner, item.name) for item in after}
        return [
            f"{item.corner} {item.name}".strip()
            for item in before
            if item.corner not in kept_corners and (item.corner, item.name) not in named
        ]

    return [
        *(f"corner {name}" for name in kept_corners),
        *kept(old.markers, new.markers),
        *kept(old.seams, new.seams),
    ]


def with_known_corners(track: Track) -> tuple[Track, tuple[str, ...]]:
    """The track with no seam or hazard that names a corner without cones, and a line about each that did."""
    known = {"", *(corner.name for corner in track.corners)}
    named = [(seam.corner, seam.name) for seam in track.seams]
    named += [(hazard.corner, f"hazard {hazard.text!r}") for hazard in track.hazards]

    def freed(item: GeoLine | Hazard) -> Any:
        return item if item.corner in known else replace(item, corner="")

    track = replace(
        track,
        seams=tuple(freed(seam) for seam in track.seams),
        hazards=tuple(freed(hazard) for hazard in track.hazards),
    )
    return track, tuple(
        f"corner {corner} of {what}, which has no cones"
        for corner, what in named
        if corner not in known
    )


def _joined(
    old: Sequence[Item],
    new: Sequence[Item],
    key: Callable[[Item], Hashable],
    both: Callable[[Item, Item], Any],
) -> tuple[Item, ...]:
    """The old items in their order, each with its new one (by ``both``) where there is one; then the other new ones."""
    fresh = {key(item): item for item in new}
    kept = [both(item, fresh.pop(key(item))) if key(item) in fresh else item for item in old]
    return (*kept, *fresh.values())


def _latest(old: Any, new: Any) -> Any:
    """The new item, with those properties and members of the old one that it does not give."""
    return replace(
        new, properties={**old.properties, **new.properties}, members=old.members | new.members
    )


def _line(old: GeoLine | None, new: GeoLine | None) -> GeoLine | None:
    if old is None or new is None:
        return new or old
    return _latest(old, new)


def _corner(old: GeoCorner, new: GeoCorner) -> GeoCorner:
    return replace(
        _latest(old, new),
        camber_deg=old.camber_deg if new.camber_deg is None else new.camber_deg,
        target_lane=new.target_lane or old.target_lane,
        cues=new.cues or old.cues,
    )


def _marker(old: GeoMarker, new: GeoMarker) -> GeoMarker:
    return replace(
        _latest(old, new),
        camber_deg=old.camber_deg if new.camber_deg is None else new.camber_deg,
        pass_within_m=new.pass_within_m or old.pass_within_m,
    )
