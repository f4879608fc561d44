"""A season of events in one SQLite file, and the questions it answers.

``store`` opens the file and puts events into it, ``schema`` is its tables and views, ``results`` reads
what an event's folder holds, ``questions`` asks, ``answers`` is what comes of it. Nothing here knows a
lap time: nobody is ranked.
"""

from __future__ import annotations
