"""From a track walk to a track: waypoints become cones, start line, seams and hazards, tracks lines."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field, replace

import numpy as np

from lapkit.course.plane import Plane
from lapkit.course.start import given_start_line
from lapkit.course.stations import StationLine
from lapkit.course.types import GeoLine, GeoPoint, Hazard, Track
from lapkit.course.walk_corners import corners_of
from lapkit.course.walk_file import WalkFile, Waypoint
from lapkit.course.walk_lines import Pass, averaged, first_line, geo_line, strides
from lapkit.course.walk_spots import Spot, gather, standing
from lapkit.course.walk_words import LINES, Described, Named, Thing, read_description, read_name
from lapkit.errors import TrackError
from lapkit.units import FloatArray, read_only
