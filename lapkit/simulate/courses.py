"""Three invented courses to ride on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np

from lapkit.course.course import Corner, Course, CourseMarker, CourseSeam
from lapkit.course.marker_line import solve_marker_line
from lapkit.course.plane import Plane
from lapkit.course.stations import StationLine
from lapkit.course.types import MarkerKind
from lapkit.simulate.layout import Bend, CornerPlan, Straight, cones, fit_straights, trace_centre

C, B, S = CornerPlan, Bend, Straight
LAYOUTS = dict(
sample=(S(310),
 C("Larch",(B(55,-75),)), S(150),
 C("Kiln Square",(B(36,50,12),S(22),B(34,50,12))), S(120),
 C("Wharf",(B(42,-72),)), S(25),
 C("Weir",(B(44,66),)), S(130),
 C("Anvil",(B(17,-172,10),)), S(480,True),
 C("Ravens Drop",(B(95,-58,25),)), S(100,True),
 C("Orchard",(B(38,-53,12),)), S(130),
 C("Tannery",(B(48,-96,15),)), S(220)),
flowing=(S(300,True),
 C("Long Acre",(B(120,-80,30),)), S(160),
 C("Fold",(B(85,60,25),)), S(90),
 C("Ridge",(B(110,-95,30),)),S(200),
 C("Skylark",(B(70,-85,20),)),S(290),
 C("Mere",(B(90,50,25),)),S(60),
 C("Sluice",(B(80,-90,25),)),S(180,True),
 C("Gate",(B(100,-120,30),)),S(250)),
twisty=(S(160),
 C("Pump",(B(22,-90,10),)),S(60),
 C("Left Lock",(B(18,85,8),)),S(20),
 C("Right Lock",(B(19,-85,8),)),S(110),
 C("Needle",(B(13,-180,8),)),S(30),
 C("Yard",(B(25,80,10),)),S(40,True),
 C("Barn",(B(24,-80,10),)),S(70,True),
 C("Gable",(B(28,-90,10),)),S(150)),
)
HALF = 6.0

@lru_cache
def built_in(name: str) -> Course:
    sections = fit_straights(LAYOUTS[name])
    centre = trace_centre(sections)
    line = StationLine.through(centre.x_m, centre.y_m, True)
    corners = []
    allc = cones(sections)
    for plan in (s for s in sections if isinstance(s, CornerPlan)):
        own = [c for c in allc if c.corner == plan.name]
        ms = tuple(CourseMarker(c.name, c.kind, c.side, *map(float, line.offset_points(c.station_m, HALF * c.side.sign)),
                   c.station_m, HALF * c.side.sign, plan.camber_deg, 1.5) for c in own)
        st = np.arange(own[0].station_m - 20, own[-1].station_m + 20, 5.0)
        seams = tuple(CourseSeam(f"seam {i+1}", st, np.full_like(st, o * plan.turn.sign)) for i, o in enumerate((2.0, -2.0)))
        corners.append(Corner(plan.name, plan.turn, own[0].station_m,
            tuple(c.station_m for c in own if c.kind is MarkerKind.APEX), own[-1].station_m, ms, seams, plan.camber_deg))
    edge = np.arange(0, line.length_m, 5.0)
    start = np.stack(line.offset_points(np.zeros(2), np.array([HALF + 1, -HALF - 1])), axis=1)
    hold = np.stack(line.offset_points(np.array([30.0]), np.array([20.0])), axis=1)
    kw = dict(plane=Plane(47.0, 8.0), reference=line, start_line=start, corners=tuple(corners), edge_station_m=edge,
        left_offset_m=np.full_like(edge, HALF), right_offset_m=np.full_like(edge, -HALF), hold_points=hold)
    course = Course(**kw)
    return Course(**kw, marker_line=solve_marker_line(course), marker_line_from="solved")
