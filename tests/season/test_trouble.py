"""Which corner troubles whom over a season, and whether it still did at the last event."""

import json

import pytest

from lapkit.season.questions import ask
from lapkit.season.results import read_results
from lapkit.season.store import add_event


@pytest.mark.parametrize(
    ("last", "told", "lately"),
    [
        ((70.0, 36.0, 0, 0), (), False),
        ((70.0, 36.0, 3, 3), (), False),
        ((70.0, 36.0, 4, 0), (), True),
        ((70.0, 36.0, 0, 4), (), True),
        # Another habit than what troubles him there over the season.
        ((70.0, 36.0, 0, 0), (("Tove", "Larch", "turning in early", "work", True, 5, 6),), False),
    ],
)
def test_whether_it_was_so_at_the_last_event_is_told(season, event, last, told, lately):
    for name, day in (("spring", "2031-04-01"), ("summer", "2031-06-01")):
        add_event(season, read_results(event(name, day, {"Tove": (60.0, 40.0, 6, 6)})))
    autumn = event("autumn", "2031-09-01", {"Tove": last}, told=told)
    add_event(season, read_results(autumn))
    (larch,) = ask(season, corner="Larch").trouble
    assert larch.lately is lately


@pytest.mark.parametrize(
    ("laps", "said", "lately"),
    [(6, True, True), (6, False, False), (5, False, False), (4, False, None)],
)
def test_a_habit_told_is_over_only_where_laps_enough_were_without_it(
    season, event, laps, said, lately
):
    early = (("Tove", "Larch", "turning in early", "work", True, 5, 6),)
    for name, day in (("spring", "2031-04-01"), ("summer", "2031-06-01")):
        of_day = event(name, day, {"Tove": (60.0, 40.0, 0, 0)}, told=early)
        add_event(season, read_results(of_day))
    last = {"Tove": (60.0, 40.0, 0, 0)}
    autumn = event("autumn", "2031-09-01", last, laps=laps, told=early if said else ())
    add_event(season, read_results(autumn))
    (larch,) = ask(season, corner="Larch").trouble
    assert larch.lately is lately


def test_an_event_at_which_no_radius_was_measured_does_not_count_against_a_habit(season, event):
    early = (("Tove", "Larch", "turning in early", "work", True, 5, 6),)
    spring = event("spring", "2031-04-01", {"Tove": (60.0, 40.0, 0, 0)}, told=early)
    summer = event("summer", "2031-06-01", {"Tove": (60.0, 40.0, 0, 0)})
    file = summer / "results.json"
    coarse = json.loads(file.read_text())
    table = coarse["tables"]["corners"]
    radius = [i for i, name in enumerate(table["columns"]) if name.startswith("radius_min")]
    for row in table["rows"]:
        for i in radius:
            row[i] = None
    file.write_text(json.dumps(coarse))
    for folder in (spring, summer):
        add_event(season, read_results(folder))
    (larch,) = ask(season, corner="Larch").trouble
    assert (larch.events, larch.habits) == (1, (("turning in early", 1),))


def test_where_no_lap_of_the_last_event_can_be_called_it_is_not_said_to_be_over(season, event):
    add_event(season, read_results(event("spring", "2031-04-01", {"Tove": (60.0, 40.0, 0, 6)})))
    folder = event("summer", "2031-06-01", {"Tove": (60.0, 40.0, 0, 6)})
    file = folder / "results.json"
    unclear = json.loads(file.read_text())
    table = unclear["tables"]["seams"]
    call = table["columns"].index("call")
    table["rows"] = [[*row[:call], "unclear", *row[call + 1 :]] for row in table["rows"]]
    file.write_text(json.dumps(unclear))
    add_event(season, read_results(folder))
    (larch,) = ask(season, corner="Larch").trouble
    assert (larch.inside, larch.called, larch.lately) == (6, 6, None)


def test_the_corner_that_troubles_most_riders_comes_first(season, event):
    folder = event("spring", "2031-04-01", {"Tove": (50.0, 30.0, 6, 0), "Iska": (50.0, 30.0, 0, 0)})
    whole = json.loads((folder / "results.json").read_text())
    table = whole["tables"]["corners"]
    corner, called = map(table["columns"].index, ("corner", "tightened"))
    for row in table["rows"]:
        row[called] = 1.0 if row[corner] == "Anvil" else row[called]
    (folder / "results.json").write_text(json.dumps(whole))
    add_event(season, read_results(folder))
    trouble = [(t.corner, t.rider) for t in ask(season).trouble]
    assert trouble == [("Anvil", "Iska"), ("Anvil", "Tove"), ("Larch", "Tove")]


def test_habits_told_at_most_events_make_trouble_where_they_led(season, event):
    early = ("Tove", "Larch", "turning in early", "work", True, 5, 6)
    inside = ("Tove", "Larch", "too far in at the turn-in cone", "other", True, 6, 6)
    apex = ("Tove", "Anvil", "wide of the apex cone", "other", True, 6, 6)
    days = {"04": (early, inside, apex), "05": (early, inside), "06": (inside,)}
    for month, told in days.items():
        riders = {"Tove": (50.0, 30.0, 0, 0), "Iska": (50.0, 30.0, 0, 0)}
        folder = event(f"of {month}", f"2031-{month}-01", riders, told=told)
        add_event(season, read_results(folder))
    (larch,) = ask(season).trouble
    # Inside at the cone led once, turning in early twice; at Anvil one event of three is no trouble.
    assert (larch.corner, larch.rider, larch.events) == ("Larch", "Tove", 3)
    assert larch.habits == (("turning in early", 2), ("too far in at the turn-in cone", 3))
    ridden = ask(season, rider="Tove", corner="Larch").ridden
    assert [r.habit for r in ridden] == [
        "turning in early", "turning in early", "too far in at the turn-in cone"
    ]  # fmt: skip
    assert [r.habit for r in ask(season, rider="Iska").ridden] == [""] * 6


def test_a_habit_told_at_half_of_the_events_alone_makes_no_trouble(season, event):
    early = (("Tove", "Larch", "turning in early", "work", True, 5, 6),)
    for month, told in (("04", early), ("05", ())):
        riders = {"Tove": (50.0, 30.0, 0, 0)}
        folder = event(f"of {month}", f"2031-{month}-01", riders, told=told)
        add_event(season, read_results(folder))
    assert ask(season).trouble == ()


def test_an_event_measured_again_brings_its_habits_anew(season, event):
    told = (("Tove", "Larch", "turning in early", "work", True, 5, 6),)
    add_event(
        season, read_results(event("spring", "2031-04-01", {"Tove": (50.0, 30.0, 0, 0)}, told=told))
    )
    add_event(season, read_results(event("spring", "2031-04-01", {"Tove": (50.0, 30.0, 0, 0)})))
    assert ask(season).trouble == ()


def test_only_the_counted_seam_makes_trouble(season, event):
    folder = event("spring", "2031-04-01", {"Tove": (50.0, 40.0, 0, 6)}, corners=("Larch",))
    whole = json.loads((folder / "results.json").read_text())
    for row in whole["tables"]["seams"]["rows"]:
        row[-1] = False  # the marker line itself runs inside
    (folder / "results.json").write_text(json.dumps(whole))
    add_event(season, read_results(folder))
    assert ask(season).trouble == ()


@pytest.mark.parametrize(("laps", "corners"), [(4, 0), (5, 2)])
def test_of_too_few_laps_no_trouble_is_made(season, event, laps, corners):
    riders = {"Tove": (60.0, 30.0, laps, laps)}
    add_event(season, read_results(event("spring", "2031-04-01", riders, laps=laps)))
    assert len(ask(season).trouble) == corners
