"""A corner's section: its pictures with their tables, and what is shown of laps that tell no radius."""

from dataclasses import replace

import numpy as np
import pytest

from lapkit.compare.quality import PassQuality
from lapkit.reporter.corner_section import corner_section
from lapkit.reporter.laps_at_corner import laps_at_corners
from lapkit.reporter.rider_at_corner import RiderAtCorner
from lapkit.units import Units


@pytest.fixture
def here(event):
    """The first rider at the first corner, where he has a finding."""
    rider, corner = event.riders[0], event.course.corners[0]
    return RiderAtCorner(
        event.course,
        corner,
        0,
        findings=[f for f in rider.findings if f.corner == corner.name][:1],
        traces=[t for run in rider.runs for t in run.traces if t.corner == corner.name],
        laps=laps_at_corners(rider.runs)[corner.name],
        units=Units.METRIC,
    )


def poor(lap):
    return replace(lap, quality=PassQuality.POOR.value)


def test_a_corner_has_three_pictures_each_with_a_row_for_every_lap(here):
    section = corner_section(here)
    assert [picture.kind for picture in section.pictures] == ["plan", "line", "bend"]
    assert all(len(picture.rows) == len(here.laps) > 3 for picture in section.pictures)
    assert section.head.name == here.name
    assert section.data is not None


def test_the_caption_says_which_lap_is_thick_where_there_is_a_finding(here):
    thick = f"Thick line: run {here.findings[0].session}, lap {here.findings[0].lap}."
    plan, *_ = corner_section(here).pictures
    assert plan.caption.startswith(thick) and plan.own == thick
    plan, _, bend = corner_section(replace(here, findings=())).pictures
    assert "Thick" not in plan.caption and plan.own == ""
    assert "at the speed of the latest lap" in bend.caption


def test_laps_that_tell_no_radius_are_drawn_in_place_alone_and_have_no_readings(here):
    coarse = replace(here, laps=[poor(lap) for lap in here.laps])
    section = corner_section(coarse, untold="too few fixes")
    assert [picture.kind for picture in section.pictures] == ["plan", "line"]
    assert all(picture.rows == () for picture in section.pictures)
    assert section.data is None
    assert section.untold == "too few fixes"


def test_a_lap_that_may_lie_anywhere_is_not_drawn(here):
    lost = [replace(t, offset_sd_m=np.full_like(t.offset_sd_m, 9.0)) for t in here.traces]
    coarse = replace(here, laps=[poor(lap) for lap in here.laps], traces=lost)
    assert corner_section(coarse).pictures == []


def test_one_coarse_lap_is_left_out_of_drawings_of_radius_and_lean(here):
    section = corner_section(replace(here, laps=[poor(here.laps[0]), *here.laps[1:]]))
    assert str(section.data).count('"run"') == len(here.laps) - 1
