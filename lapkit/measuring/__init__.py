"""From files to measures: the inputs, the course they are measured on, and every run as a job of its own.

``inputs`` are the files, ``options`` how they are read, ``course_source`` and ``coach_line`` the course. ``runs``
measures one log. ``jobs`` has many of them measured, by the processes of ``workers`` or a cluster (``cluster``), and
keeps each result (``packed``) under a key made of all it depends on (``provenance``). ``gather`` puts the runs
together into an event's result (``reviews``).
"""
