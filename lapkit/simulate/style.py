"""How a simulated rider rides: limits, smoothness, scatter and habits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Habit:
    """What a rider does at a corner that differs from the marker line.

    Attributes:
        inside_seam_exit: after the last apex he stays inside the first seam to the exit.
        tighten_exit: share by which the exit's tightest radius falls short of the marker line's,
            because he stands wide at the last apex and pulls the machine in after it.
        early_turn_in_m: metres by which he turns in early; late when negative.
        apex_wide_m, exit_wide_m: how much wider than the marker line he passes apexes and exit.
    """

    inside_seam_exit: bool = False
    tighten_exit: float = 0.0
    early_turn_in_m: float = 0.0
    apex_wide_m: float = 0.0
    exit_wide_m: float = 0.0


@dataclass(frozen=True)
class RiderStyle:
    """A rider on his machine.

    Attributes:
        lean_deg: the lean he settles at in corners.
        lean_sd_deg: scatter of it from lap to lap and corner to corner.
        brake_mps2, drive_mps2: hardest braking and drive, upright.
        top_speed_mps: speed at which drive is used up.
        roll_dps: fastest roll, degrees per second.
        pedal_s: about how long he takes to come on and off brakes and throttle.
        offset_sd_m, phase_sd_m: scatter of his line across and along the course from lap to lap.
        drift_wide_m: metres wider at the apexes with every lap, as tyres and rider tire.
        wobble_deg: unsteadiness of his lean, 0.3 to 0.9 Hz.
        antenna_height_m, com_height_m: heights above the tyres' contact, the machine upright.
        habit: what he does at every corner that ``habit_at`` does not name.
        habit_at: what he does at a corner of that name.
        lapse_at: what he does once, by corner and lap (timed laps count from 1).
    """

    lean_deg: float = 38.0
    lean_sd_deg: float = 0.8
    brake_mps2: float = 6.0
    drive_mps2: float = 4.0
    top_speed_mps: float = 58.0
    roll_dps: float = 55.0
    pedal_s: float = 0.6
    offset_sd_m: float = 0.3
    phase_sd_m: float = 1.0
    drift_wide_m: float = 0.0
    wobble_deg: float = 0.3
    antenna_height_m: float = 0.9
    com_height_m: float = 0.6
    habit: Habit = Habit()
    habit_at: Mapping[str, Habit] = field(default_factory=dict)
    lapse_at: Mapping[tuple[str, int], Habit] = field(default_factory=dict)

    def habit_in(self, corner: str, lap: int) -> Habit:
        """The habit, or the lapse, at a corner on a lap."""
        return self.lapse_at.get((corner, lap), self.habit_at.get(corner, self.habit))


STYLES: dict[str, RiderStyle] = {
    "novice": RiderStyle(
        lean_deg=27.0,
        lean_sd_deg=1.2,
        brake_mps2=3.5,
        drive_mps2=2.2,
        top_speed_mps=45.0,
        roll_dps=40.0,
        pedal_s=0.9,
        offset_sd_m=0.5,
        phase_sd_m=2.5,
        wobble_deg=0.6,
    ),
    "smooth": RiderStyle(roll_dps=50.0, pedal_s=0.8, offset_sd_m=0.25, wobble_deg=0.15),
    "rough": RiderStyle(
        lean_deg=40.0,
        lean_sd_deg=1.3,
        brake_mps2=7.5,
        drive_mps2=5.0,
        roll_dps=66.0,
        pedal_s=0.35,
        offset_sd_m=0.45,
        phase_sd_m=2.0,
        wobble_deg=0.9,
    ),
    "quick": RiderStyle(
        lean_deg=47.0,
        lean_sd_deg=0.7,
        brake_mps2=8.0,
        drive_mps2=5.5,
        top_speed_mps=68.0,
        roll_dps=65.0,
        pedal_s=0.5,
        offset_sd_m=0.2,
        phase_sd_m=0.8,
        wobble_deg=0.25,
    ),
}
"""Four riders to start from; :func:`dataclasses.replace` makes others of them."""
