"""Three invented courses: that of the sample event, a fast flowing one, a tight twisty one."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from lapkit.course.course import Course
from lapkit.course.marker_line import with_line
from lapkit.course.place import place
from lapkit.course.track_file import read_track
from lapkit.errors import OptionError, no_such
from lapkit.simulate.layout import Bend, CornerPlan, Layout, Straight
from lapkit.simulate.layout_track import track_of

SAMPLE = Layout(
    name="Saltmarsh Ring",
    sections=(
        Straight(310.0),
        CornerPlan(
            "Larch",
            (Bend(34.0, -75.0, 12.0),),
            turn_in_before_m=16.0,
            exit_after_m=20.0,
            cues=(
                "Brake in a straight line, then let the machine roll in.",
                "Look for the second cone early.",
            ),
        ),
        Straight(150.0),
        CornerPlan(
            "Kiln Square",
            (Bend(19.0, 60.0, 8.0), Straight(26.0), Bend(18.0, 60.0, 8.0)),
            turn_in_before_m=12.0,
            exit_after_m=18.0,
            turn_in_out_m=4.0,
            exit_out_m=4.0,
            camber_deg=1.5,
            cues=(
                "One corner, two apexes: hold one steady arc and do not chase the first cone.",
                "Wait for the second apex before you open the throttle.",
            ),
        ),
        Straight(120.0),
        CornerPlan(
            "Wharf",
            (Bend(36.0, -82.0, 14.0),),
            exit_after_m=2.0,
            exit_out_m=4.0,
            apex_share=0.6,
            cues=("Give this exit away: it sets up the left that follows.",),
        ),
        Straight(85.0),
        CornerPlan(
            "Weir",
            (Bend(36.0, 66.0, 14.0),),
            turn_in_before_m=4.0,
            turn_in_out_m=4.0,
            cues=(
                "Change direction once, in one smooth movement.",
                "Late apex, then let it run out.",
            ),
        ),
        Straight(130.0),
        CornerPlan(
            "Anvil",
            (Bend(15.0, -172.0, 8.0),),
            turn_in_before_m=10.0,
            exit_after_m=20.0,
            apex_share=0.6,
            camber_deg=2.0,
            cues=("Slowest corner of the lap: be patient until you see the exit cone.",),
        ),
        Straight(480.0, fitted=True),
        CornerPlan(
            "Ravens Drop",
            (Bend(80.0, -58.0, 20.0),),
            turn_in_before_m=20.0,
            exit_after_m=25.0,
            camber_deg=-2.0,
            apex_camber_deg=-3.0,
            cues=(
                "You cannot see the exit: trust the turn-in cone, not the kerb.",
                "The road falls away to the outside. Keep the line wide and the lean steady.",
            ),
            hazard="Soft ground beyond the outer edge after the crest",
        ),
        Straight(100.0, fitted=True),
        CornerPlan(
            "Orchard",
            (Bend(22.0, -65.0, 8.0),),
            turn_in_before_m=26.0,
            exit_after_m=28.0,
            apex_share=0.5,
            cues=("Short corner: one look, one turn, and stand it up.",),
        ),
        Straight(130.0),
        CornerPlan(
            "Tannery",
            (Bend(36.0, -94.0, 12.0),),
            apex_share=0.6,
            cues=("Long corner onto the straight: late apex, and let it drift out to the cone.",),
        ),
        Straight(220.0),
    ),
    heights=(
        (0.0, 21.0),
        (0.11, 20.0),
        (0.2, 16.5),
        (0.3, 13.0),
        (0.39, 11.5),
        (0.465, 15.6),
        (0.532, 21.8),
        (0.555, 23.3),
        (0.57, 23.7),
        (0.588, 22.6),
        (0.606, 20.2),
        (0.63, 17.2),
        (0.67, 13.9),
        (0.758, 12.5),
        (0.884, 17.0),
        (1.0, 21.0),
    ),
)

FLOWING = Layout(
    name="Long Down",
    sections=(
        Straight(300.0, fitted=True),
        CornerPlan(
            "Long Acre", (Bend(120.0, -80.0, 30.0),), turn_in_before_m=20.0, exit_after_m=25.0
        ),
        Straight(160.0),
        CornerPlan("Fold", (Bend(85.0, 60.0, 25.0),), turn_in_before_m=15.0),
        Straight(120.0),
        CornerPlan("Ridge", (Bend(110.0, -95.0, 30.0),), turn_in_before_m=20.0, camber_deg=-1.0),
        Straight(200.0),
        CornerPlan("Skylark", (Bend(70.0, -85.0, 20.0),), camber_deg=2.0),
        Straight(290.0),
        CornerPlan(
            "Mere", (Bend(90.0, 50.0, 25.0),), exit_after_m=6.0, exit_out_m=3.5, apex_share=0.6
        ),
        Straight(100.0),
        CornerPlan("Sluice", (Bend(80.0, -90.0, 25.0),), turn_in_before_m=6.0, turn_in_out_m=3.5),
        Straight(180.0, fitted=True),
        CornerPlan("Gate", (Bend(100.0, -120.0, 30.0),), turn_in_before_m=20.0, apex_share=0.6),
        Straight(250.0),
    ),
    heights=(
        (0.0, 40.0),
        (0.15, 43.0),
        (0.35, 34.0),
        (0.5, 30.0),
        (0.7, 38.0),
        (0.85, 41.0),
        (1.0, 40.0),
    ),
    heading_deg=205.0,
)

TWISTY = Layout(
    name="Cobbler's Yard",
    sections=(
        Straight(160.0),
        CornerPlan("Pump", (Bend(22.0, -90.0, 10.0),), exit_after_m=14.0, apex_share=0.6),
        Straight(105.0),
        CornerPlan(
            "Left Lock", (Bend(19.0, 85.0, 8.0),), exit_after_m=3.0, exit_out_m=3.0, apex_share=0.6
        ),
        Straight(46.0),
        CornerPlan(
            "Right Lock",
            (Bend(20.0, -85.0, 8.0),),
            turn_in_before_m=4.0,
            turn_in_out_m=3.0,
            exit_after_m=14.0,
        ),
        Straight(110.0),
        CornerPlan(
            "Needle",
            (Bend(14.0, -180.0, 8.0),),
            turn_in_before_m=8.0,
            exit_after_m=16.0,
            exit_out_m=3.0,
        ),
        Straight(60.0),
        CornerPlan(
            "Yard",
            (Bend(25.0, 80.0, 10.0),),
            turn_in_before_m=12.0,
            turn_in_out_m=3.0,
            exit_after_m=14.0,
        ),
        Straight(40.0, fitted=True),
        CornerPlan("Barn", (Bend(24.0, -80.0, 10.0),), exit_after_m=12.0),
        Straight(70.0, fitted=True),
        CornerPlan("Gable", (Bend(28.0, -90.0, 10.0),), exit_after_m=14.0),
        Straight(150.0),
    ),
    heights=((0.0, 5.0), (0.3, 7.0), (0.6, 4.0), (0.8, 3.0), (1.0, 5.0)),
    half_width_m=5.0,
    heading_deg=310.0,
    pit_reach_m=130.0,
)

LAYOUTS: dict[str, Layout] = {"sample": SAMPLE, "flowing": FLOWING, "twisty": TWISTY}
"""The built-in courses by name."""


@cache
def built_in(name: str) -> Course:
    """A built-in course with its marker line solved.

    Raises:
        OptionError: there is no course of that name.
    """
    if name not in LAYOUTS:
        raise OptionError(
            f"there is no built-in course {name!r}", remedy=f"Courses: {', '.join(LAYOUTS)}."
        )
    return with_line(place(track_of(LAYOUTS[name])))


def course_named(name: str | Path) -> Course:
    """The course of a track file, or a built-in one by name, ready to be ridden.

    Raises:
        TrackError: the track file cannot be used.
        OptionError: there is neither a file nor a built-in course of that name; the message lists the courses.
    """
    if not Path(name).exists() and str(name) in LAYOUTS:
        return built_in(str(name))
    if not Path(name).exists() and Path(name).suffix == "":
        raise no_such("built-in course or track file", str(name), LAYOUTS)
    course = place(read_track(name))
    return with_line(course) if course.corners else course
