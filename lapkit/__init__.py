"""lapkit: radius, lean and line from track-day riders' GPS logs, held against the coach's cones."""

__version__ = "0.1.0"
