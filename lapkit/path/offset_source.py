"""What a position offset was found from, as the column ``offset_from`` of ``logs.csv`` names it."""

HOLD_POINT, BASE_LOG, EDGES, NOTHING = "hold_point", "base_log", "edges", "none"

KNOWN_SPOTS = (HOLD_POINT, BASE_LOG)
"""Sources with a receiver on a known spot. They show what the offset was, the others only what it cannot have been."""
