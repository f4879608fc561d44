"""A season of events in one SQLite file, and the questions it answers.

``results`` reads what an event's folder holds, by the ``checks`` for its cells. ``file`` opens the season's file, whose
tables and views are in ``schema``, and ``store`` puts events into it. ``questions`` asks it, with ``trouble`` and
``habit_changes``, and ``answers`` are the records that it returns. Nothing here knows a lap time: nobody is ranked.
"""

from __future__ import annotations
