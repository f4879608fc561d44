"""NMEA 0183 (RMC, GGA, VTG, GNS; any talker) → raw fixes. Binary between the sentences is passed over."""

from __future__ import annotations

import re
from array import array
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from lapkit.importer.fixes import RawFixes
from lapkit.importer.log import Dropped
from lapkit.importer.source import Source
from lapkit.importer.times import midnights_passed
from lapkit.units import KMH_MPS, KNOT_MPS, FloatArray
