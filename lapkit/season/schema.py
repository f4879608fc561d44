"""Tables and views of the season file, in plain SQL that any SQLite program can query.

Tables, filled by ``lapkit season add``; only timed laps are kept, lengths in metres, leans in degrees:

- ``events``: a row for each event; ``day``, the day where it was ridden, and ``start_utc`` are NULL when no log had a
  calendar. Changes are looked for between events of the same ``course`` only.
- ``logs``: SHA-256 of each log of an event, by which a day that was measured again is known.
- ``event_corners``: the corners of an event's course in riding order, ``corner_order`` 0 for the first.
- ``corners``, ``seams``: a row for each lap and corner, or seam, with the columns of the event's tables, unless the
  lap left the road there; ``seam_order`` is 0 for the innermost seam; ``tightened`` is 1 for an exit called so, by the
  one rule that findings use as well; ``counted`` is 1 for the innermost seam that the marker line stays outside of.
- ``habits``: the habits that a rider was told of at a corner, in a few words, ``story_order`` 0 for the one that led
  there, each with the number of laps it showed in and of those that could be judged.
- ``corner_summary``, ``seam_summary``: ``corners`` and ``seams`` summed up by event, rider and corner when the event is
  added. Radius and lean are medians over laps; ``_sd`` is the sample standard deviation between laps.

Views:

- ``season_events``: the events numbered in time order (``place``), those without a date last.
- ``course_corners``: the corners of a course in riding order, as its last event has them: where the start
  line was moved, they begin with another. The views below have this order as ``corner_order`` too.
- ``rider_corner_event``: a rider's radius, lean and tightened exits by corner and event.
- ``seam_calls``: a rider's seam calls by corner, seam and event.
- ``changes``: each rider and corner from one event to his next on that course. A change is ``_clear``
  when it exceeds three standard errors of the difference of the two medians (1.2533 × sd / √laps each),
  both events have five laps or more, and the change exceeds what logs can tell: 3 % and 1 m of radius,
  1° of lean. Tightened exits: three standard errors of the difference of two shares.
- ``seam_changes``: the same for laps inside each seam, counted over the laps that could be called.
- ``rider_habits``: at how many events a rider was told of a habit at a corner, and at how many it led.
- ``trouble``: share of a rider's laps tightened, and inside the counted seam, by corner over the season; ``events`` are
  those at which a radius of his was measured there.
"""

from __future__ import annotations

APPLICATION_ID = 0x6C61706B
"""Marks an SQLite file as a season of lapkit ("lapk")."""

SCHEMA_VERSION = 5
"""Version of the tables below, kept in the file's ``user_version``."""

TABLES = """
CREATE TABLE events (
  event_id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, title TEXT NOT NULL, start_utc TEXT, day TEXT,
  course TEXT NOT NULL, version TEXT NOT NULL);
CREATE TABLE logs (
  event_id INTEGER NOT NULL REFERENCES events, sha256 TEXT NOT NULL,
  PRIMARY KEY (sha256, event_id)) WITHOUT ROWID;
CREATE TABLE event_corners (
  event_id INTEGER NOT NULL REFERENCES events, corner TEXT NOT NULL, corner_order INTEGER NOT NULL,
  PRIMARY KEY (event_id, corner)) WITHOUT ROWID;
CREATE TABLE corners (
  event_id INTEGER NOT NULL REFERENCES events, rider TEXT NOT NULL, corner TEXT NOT NULL,
  session TEXT NOT NULL, lap INTEGER NOT NULL, turn TEXT NOT NULL,
  radius_min_m REAL, radius_min_lo_m REAL, radius_min_hi_m REAL,
  exit_radius_min_m REAL, exit_radius_ratio REAL, p_tightened REAL,
  lean_max_deg REAL, lean_max_lo_deg REAL, lean_max_hi_deg REAL, lean_on_line_deg REAL,
  tightened REAL,
  PRIMARY KEY (event_id, rider, corner, session, lap)) WITHOUT ROWID;
CREATE TABLE seams (
  event_id INTEGER NOT NULL REFERENCES events, rider TEXT NOT NULL, corner TEXT NOT NULL,
  seam TEXT NOT NULL, session TEXT NOT NULL, lap INTEGER NOT NULL, seam_order INTEGER NOT NULL,
  inside_share REAL, p_inside REAL, call TEXT NOT NULL, counted INTEGER NOT NULL,
  PRIMARY KEY (event_id, rider, corner, seam, session, lap)) WITHOUT ROWID;
CREATE TABLE habits (
  event_id INTEGER NOT NULL REFERENCES events, rider TEXT NOT NULL, corner TEXT NOT NULL,
  story_order INTEGER NOT NULL, what TEXT NOT NULL, laps_seen INTEGER NOT NULL,
  laps_counted INTEGER NOT NULL,
  PRIMARY KEY (rider, corner, event_id, story_order)) WITHOUT ROWID;
CREATE INDEX habits_by_event ON habits (event_id);
CREATE TABLE corner_summary (
  event_id INTEGER NOT NULL REFERENCES events, rider TEXT NOT NULL, corner TEXT NOT NULL,
  turn TEXT NOT NULL, laps INTEGER NOT NULL,
  radius_laps INTEGER NOT NULL, radius_min_m REAL, radius_min_lo_m REAL, radius_min_hi_m REAL,
  radius_min_sd_m REAL, lean_laps INTEGER NOT NULL, lean_max_deg REAL, lean_max_lo_deg REAL,
  lean_max_hi_deg REAL, lean_max_sd_deg REAL,
  tightened INTEGER NOT NULL, tightened_counted INTEGER NOT NULL,
  PRIMARY KEY (rider, corner, event_id)) WITHOUT ROWID;
CREATE INDEX corner_summary_by_event ON corner_summary (event_id);
CREATE TABLE seam_summary (
  event_id INTEGER NOT NULL REFERENCES events, rider TEXT NOT NULL, corner TEXT NOT NULL,
  seam TEXT NOT NULL, seam_order INTEGER NOT NULL, counted INTEGER NOT NULL, laps INTEGER NOT NULL,
  inside INTEGER NOT NULL, outside INTEGER NOT NULL, unclear INTEGER NOT NULL,
  PRIMARY KEY (rider, corner, seam, event_id)) WITHOUT ROWID;
CREATE INDEX seam_summary_by_event ON seam_summary (event_id);
"""

VIEWS = """
CREATE VIEW season_events AS
  SELECT event_id, title, start_utc, day, course,
    ROW_NUMBER() OVER (ORDER BY start_utc IS NULL, start_utc, event_id) AS place
  FROM events;
CREATE VIEW course_corners AS
  WITH latest AS (SELECT course, MAX(place) AS place FROM season_events GROUP BY course)
  SELECT course, corner, corner_order
  FROM latest JOIN season_events USING (course, place) JOIN event_corners USING (event_id);
CREATE VIEW rider_corner_event AS
  SELECT e.place, e.title, e.start_utc, e.course, o.corner_order, s.*
  FROM corner_summary AS s JOIN season_events AS e USING (event_id)
    JOIN course_corners AS o USING (course, corner);
CREATE VIEW seam_calls AS
  SELECT e.place, e.title, e.start_utc, e.course, o.corner_order, s.*
  FROM seam_summary AS s JOIN season_events AS e USING (event_id)
    JOIN course_corners AS o USING (course, corner);
CREATE VIEW changes AS
  WITH pairs AS (
    SELECT rider, corner, corner_order, course, place, radius_min_m, radius_laps, radius_min_sd_m,
      lean_max_deg, lean_laps, lean_max_sd_deg, tightened, tightened_counted,
      LAG(place) OVER w AS after_place, LAG(radius_min_m) OVER w AS r0,
      LAG(radius_laps) OVER w AS rn0, LAG(radius_min_sd_m) OVER w AS rs0,
      LAG(lean_max_deg) OVER w AS l0, LAG(lean_laps) OVER w AS ln0,
      LAG(lean_max_sd_deg) OVER w AS ls0, LAG(tightened) OVER w AS t0,
      LAG(tightened_counted) OVER w AS tn0
    FROM rider_corner_event
    WINDOW w AS (PARTITION BY course, rider, corner ORDER BY place))
  SELECT rider, corner, corner_order, course, after_place, place AS seen_place,
    r0 AS radius_before_m, radius_min_m AS radius_after_m,
    radius_min_m - r0 AS radius_change_m,
    COALESCE(MIN(radius_laps, rn0) >= 5
      AND ABS(radius_min_m - r0) >= MAX(1.0, 0.03 * r0)
      AND (radius_min_m - r0) * (radius_min_m - r0) > 9.0 * 1.5708
        * (radius_min_sd_m * radius_min_sd_m / radius_laps + rs0 * rs0 / rn0), 0) AS radius_clear,
    l0 AS lean_before_deg, lean_max_deg AS lean_after_deg, lean_max_deg - l0 AS lean_change_deg,
    COALESCE(MIN(lean_laps, ln0) >= 5 AND ABS(lean_max_deg - l0) >= 1.0
      AND (lean_max_deg - l0) * (lean_max_deg - l0) > 9.0 * 1.5708
        * (lean_max_sd_deg * lean_max_sd_deg / lean_laps + ls0 * ls0 / ln0), 0) AS lean_clear,
    t0 AS tightened_before, tn0 AS counted_before, tightened AS tightened_after,
    tightened_counted AS counted_after,
    COALESCE(MIN(tightened_counted, tn0) >= 5
      AND (1.0 * tightened / tightened_counted - 1.0 * t0 / tn0)
        * (1.0 * tightened / tightened_counted - 1.0 * t0 / tn0) > 9.0
        * (tightened + t0) * (tightened_counted + tn0 - tightened - t0)
        / (1.0 * (tightened_counted + tn0) * tightened_counted * tn0), 0) AS tightened_clear
  FROM pairs WHERE after_place IS NOT NULL;
CREATE VIEW seam_changes AS
  WITH pairs AS (
    SELECT rider, corner, corner_order, seam, seam_order, course, place, inside, inside + outside AS called,
      LAG(place) OVER w AS after_place, LAG(inside) OVER w AS i0,
      LAG(inside + outside) OVER w AS n0
    FROM seam_calls
    WINDOW w AS (PARTITION BY course, rider, corner, seam ORDER BY place))
  SELECT rider, corner, corner_order, seam, seam_order, course, after_place, place AS seen_place,
    i0 AS inside_before, n0 AS called_before, inside AS inside_after, called AS called_after,
    COALESCE(MIN(called, n0) >= 5
      AND (1.0 * inside / called - 1.0 * i0 / n0) * (1.0 * inside / called - 1.0 * i0 / n0)
        > 9.0 * (inside + i0) * (called + n0 - inside - i0)
        / (1.0 * (called + n0) * called * n0), 0) AS inside_clear
  FROM pairs WHERE after_place IS NOT NULL;
CREATE VIEW rider_habits AS
  SELECT course, corner, corner_order, rider, what, COUNT(*) AS events,
    SUM(story_order = 0) AS led, SUM(laps_seen) AS laps_seen, SUM(laps_counted) AS laps_counted
  FROM habits JOIN season_events USING (event_id) JOIN course_corners USING (course, corner)
  GROUP BY course, corner, rider, what;
CREATE VIEW trouble AS
  WITH exits AS (
    SELECT course, corner, corner_order, rider, SUM(radius_laps > 0) AS events, SUM(tightened) AS tightened,
      SUM(tightened_counted) AS tightened_counted
    FROM rider_corner_event GROUP BY course, corner, rider),
  counted AS (
    SELECT course, corner, rider, SUM(inside) AS inside, SUM(inside + outside) AS called
    FROM seam_calls WHERE counted GROUP BY course, corner, rider)
  SELECT course, corner, corner_order, rider, events, tightened, tightened_counted,
    1.0 * tightened / NULLIF(tightened_counted, 0) AS tightened_share,
    COALESCE(inside, 0) AS inside, COALESCE(called, 0) AS called,
    1.0 * inside / NULLIF(called, 0) AS inside_share
  FROM exits LEFT JOIN counted USING (course, corner, rider);
"""

SUMMARIES = """
INSERT INTO corner_summary (
    event_id, rider, corner, turn, laps,
    radius_laps, radius_min_m, radius_min_lo_m, radius_min_hi_m, radius_min_sd_m,
    lean_laps, lean_max_deg, lean_max_lo_deg, lean_max_hi_deg, lean_max_sd_deg,
    tightened, tightened_counted)
  SELECT
    event_id, rider, corner, MIN(turn), COUNT(*),
    COUNT(radius_min_m), median(radius_min_m), median(radius_min_lo_m), median(radius_min_hi_m), spread(radius_min_m),
    COUNT(lean_max_deg), median(lean_max_deg), median(lean_max_lo_deg), median(lean_max_hi_deg), spread(lean_max_deg),
    COALESCE(SUM(tightened), 0), COUNT(tightened)
  FROM corners WHERE event_id = :event GROUP BY rider, corner;
INSERT INTO seam_summary (
    event_id, rider, corner, seam, seam_order, counted, laps, inside, outside, unclear)
  SELECT
    event_id, rider, corner, seam, MIN(seam_order), MAX(counted), COUNT(*),
    SUM(call = 'inside'), SUM(call = 'outside'), SUM(call = 'unclear')
  FROM seams WHERE event_id = :event GROUP BY rider, corner, seam;
"""
"""Run once for each event added; ``store`` gives the connection the aggregates ``median`` and ``spread``."""
