"""A season of events in one SQLite file, and the questions it answers.

``results`` reads what an event's folder holds, by the ``checks`` for its cells; ``store`` opens the season's file
and puts events into it; ``schema`` is the file's tables and views; ``questions`` asks them, and ``answers`` are the
records that it returns. Nothing here knows a lap time: nobody is ranked.
"""

from __future__ import annotations
