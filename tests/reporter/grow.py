"""More laps, riders, runs and corners than were ridden: what there is, again and again under new names."""

from dataclasses import replace

import pandas as pd

from lapkit.compare.changes import RunChanges


def grown(rider, laps):
    """The rider with that many timed laps in his first run."""
    run = rider.runs[0]
    timed = run.tables["laps"].query("kind == 'timed'")["lap"].tolist()
    traces, tables = [], {name: [table] for name, table in run.tables.items()}
    for number in range(100, 100 + laps - len(timed)):
        like = timed[number % len(timed)]
        traces += [replace(t, lap=number) for t in run.traces if t.lap == like]
        for parts in tables.values():
            if "lap" in parts[0]:
                parts.append(parts[0][parts[0]["lap"] == like].assign(lap=number))
    whole = {name: pd.concat(parts, ignore_index=True) for name, parts in tables.items()}
    return replace(rider, runs=(replace(run, tables=whole, traces=(*run.traces, *traces)),))


def with_runs(rider, count):
    """The rider with that many runs."""
    runs = []
    for number in range(count):
        run, session = rider.runs[number % len(rider.runs)], str(number + 1)
        traces = tuple(replace(t, session=session) for t in run.traces)
        tables = {name: table.assign(session=session) for name, table in run.tables.items()}
        runs.append(replace(run, session=session, tables=tables, traces=traces))
    return replace(rider, runs=tuple(runs), changed=RunChanges(runs).every())


def crowd(event, riders, corners):
    """The event with that many riders on a course of that many corners; for its summary only."""
    own = event.course.corners
    more = [
        replace(own[i % len(own)], name=f"{own[i % len(own)].name} {i // len(own) + 1}")
        for i in range(len(own), corners)
    ]
    names = {c.name: [c.name] for c in own}
    for i, corner in enumerate(more, len(own)):
        names[own[i % len(own)].name].append(corner.name)
    everybody = [_like(event, i, names) for i in range(riders)]
    runs = [run for rider in everybody for run in rider.runs]
    tables = {n: pd.concat([r.tables[n] for r in runs], ignore_index=True) for n in runs[0].tables}
    course = replace(event.course, corners=(*own, *more))
    return replace(event, course=course, riders=tuple(everybody), tables=event.tables | tables)


_SUMMED = ("laps", "corners", "seams", "usual", "logs")


def _like(event, number, names):
    """A rider like one of the event's, under a name of his own, at every corner of the longer course."""
    rider = event.riders[number % len(event.riders)]
    name = f"{rider.rider} {number}"

    def many(table):
        table = table.assign(rider=name)
        if "corner" not in table:
            return table
        copies = max(map(len, names.values()))
        parts = [
            table.assign(corner=table["corner"].map(lambda c, i=i: names[c][i : i + 1]))
            .explode("corner")
            .dropna(subset="corner")
            for i in range(copies)
        ]
        return pd.concat(parts, ignore_index=True)

    runs = tuple(
        replace(run, rider=name, traces=(), tables={n: many(run.tables[n]) for n in _SUMMED})
        for run in rider.runs
    )
    findings = tuple(
        replace(f, rider=name, corner=corner)
        for f in rider.findings
        for corner in names.get(f.corner, [f.corner])
    )
    return replace(rider, rider=name, runs=runs, findings=findings)
