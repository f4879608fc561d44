"""How high antenna and centre of mass stand on a machine, and how round its tyres are."""

from __future__ import annotations

from dataclasses import dataclass

from lapkit.lean import USUAL_COM_HEIGHT_M, USUAL_TYRE_RADIUS_M


@dataclass(frozen=True)
class Heights:
    """Heights above the road with the machine upright, metres.

    Attributes:
        antenna_m: height of the antenna.
        com_m: height of the centre of mass of machine and rider.
        tyre_radius_m: crown radius of the rear tyre.
        com_sd_m: how well ``com_m`` is known, one standard deviation.
        antenna_sd_m: the same of ``antenna_m``.
        antenna_measured: whether somebody measured ``antenna_m``; else it is the usual one.
    """

    antenna_m: float = 0.9
    com_m: float = USUAL_COM_HEIGHT_M
    tyre_radius_m: float = USUAL_TYRE_RADIUS_M
    com_sd_m: float = 0.04
    antenna_sd_m: float = 0.05
    antenna_measured: bool = True

    @classmethod
    def usual(cls) -> Heights:
        """The heights of a machine that nobody measured.

        Antennas are mounted anywhere from the tank to the tail, and now and then on the rider. So the usual height of an
        antenna is less certain than a measured one (our choice).
        """
        return cls(antenna_sd_m=0.10, antenna_measured=False)

    @property
    def above_m(self) -> float:
        """Height of the antenna above the centre of mass, metres."""
        return self.antenna_m - self.com_m
