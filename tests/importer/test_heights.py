"""Heights on the machine: what an event folder may leave out has the heights that the documentation gives."""

import pytest

from lapkit.importer.heights import Heights


def test_left_out_heights_are_those_of_the_documentation():
    usual = Heights()
    assert (usual.antenna_m, usual.com_m, usual.tyre_radius_m) == (0.9, 0.6, 0.09)


def test_an_antenna_that_nobody_measured_is_as_high_and_in_more_doubt():
    usual, measured = Heights.usual(), Heights()
    assert usual.antenna_m == measured.antenna_m
    assert usual.antenna_sd_m > measured.antenna_sd_m


def test_lean_carries_the_antenna_by_its_height_above_the_centre_of_mass():
    assert Heights(antenna_m=1.1, com_m=0.65).above_m == pytest.approx(0.45)
    assert Heights(antenna_m=0.5, com_m=0.65).above_m == pytest.approx(-0.15)
