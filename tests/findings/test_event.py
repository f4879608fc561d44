"""What is said of a whole event."""

import re
from dataclasses import replace

import pytest

from lapkit.compare.changes import RunChanges
from lapkit.compare.results import Unusable
from lapkit.findings import Code, EventCode, RiderReview, find, find_event
from lapkit.findings.sentences import in_short
from lapkit.units import Units


@pytest.fixture
def event(run, course):
    """Sentences of an event from rider → how he rides."""

    def made(riders, unusable=(), units=Units.METRIC):
        reviewed = []
        for name, rides in riders.items():
            runs = tuple(
                replace(
                    r.result(),
                    rider=name,
                    tables={k: t.assign(rider=name) for k, t in r.result().tables.items()},
                )
                for r in rides
            )
            found = find(runs, course, units=units)
            changed = RunChanges(runs).every()
            reviewed.append(RiderReview(name, "blue", runs, found, changed=changed))
        return find_event(reviewed, course, unusable, units=units)

    return made


def of(found, code):
    return [f for f in found if f.code == code]


def test_harm_says_whom_to_talk_to_first(run, event, tight):
    found = event(
        {
            "Ada": [run().corner("Birch", **tight)],
            "Ben": [run(seed=1).corner("Quarry", **tight)],  # the same, off camber
            "Cy": [run(seed=2)],
        }
    )
    first = of(found, EventCode.TALK_FIRST)
    assert [f.riders for f in first] == [("Ben",), ("Ada",)]
    assert first[0].text == "Talk to Ben first: an exit that tightens at Quarry in all 6 laps."
    assert first[1].text.startswith("Then Ada: ")


def test_a_corner_that_most_ride_alike_points_at_the_cone(run, event, tight):
    riders = {
        name: [run(seed=i).moved("Weir", "apex", 1.6)] for i, name in enumerate(("Ada", "Ben"))
    }
    riders |= {"Cy": [run(seed=4).corner("Barn", **tight)]}
    found = event(riders)
    weir, barn = of(found, EventCode.CORNER_TROUBLES)
    assert weir.corner == "Weir"
    assert set(weir.riders) == {"Ada", "Ben"}
    assert weir.text.startswith("Weir troubles 2 of 3 riders. Wide of the apex cone: ")
    assert "look at the cone before the riders" in weir.text
    assert "look at the cone" not in barn.text
    (cone,) = of(found, EventCode.CONE_MISSED)
    assert cone.text == (
        "The cone missed most is the apex cone at Weir: Ada by 1.7 m and Ben by 1.6 m, in all 12 laps."
    )


def test_the_cone_missed_most_goes_by_laps_before_metres(run, event):
    found = event(
        {
            "Ada": [run().moved("Weir", "apex", 1.6)],
            "Ben": [run(seed=1).moved("Barn", "apex", 4.0, laps=range(1, 5))],
        }
    )
    (cone,) = of(found, EventCode.CONE_MISSED)
    assert re.fullmatch(r".* the apex cone at Weir: Ada by 1\.\d m, in all 6 laps\.", cone.text)


def test_a_seam_and_a_turn_in_are_no_cones_that_are_missed(run, event, early):
    rides = {"Ada": [run().inside_seam("Barn").corner("Weir", **early)]}
    assert of(event(rides), EventCode.CONE_MISSED) == []


def test_of_many_who_miss_a_cone_the_span_is_told(run, event):
    riders = {
        name: [run(seed=i, scatter_m=0.05).moved("Weir", "apex", 1.6 + i)]
        for i, name in enumerate(("Ada", "Ben", "Cy", "Dot", "Eli"))
    }
    (cone,) = of(event(riders), "cone_missed")
    assert ": 5 riders by 1.6 m to 5.6 m, in all 30 laps." in cone.text


def test_who_was_inside_with_a_longer_radius_is_no_trouble_but_named(run, event):
    ride = run().inside_seam("Barn").moved("Barn", "exit", -3.0)
    ride.corner("Barn", exit_radius_min_m=98.0, exit_radius_ratio=1.2)
    found = event({"Ada": [ride], "Cy": [run(seed=4)]})
    (fact,) = of(found, EventCode.INSIDE_OPENLY)
    assert fact.text.startswith("At Barn Ada ran inside the first seam with a longer radius")
    assert (fact.corner, fact.riders, fact.harm) == ("Barn", ("Ada",), 0.0)
    assert not of(found, EventCode.CORNER_TROUBLES) and not of(found, EventCode.TALK_FIRST)


def test_a_finding_in_a_few_words_is_a_sentence_s_part_with_its_cone():
    assert in_short(Code.APEX_MISSED, "apex 2") == "wide of the apex 2 cone"
    assert in_short(Code.INSIDE_SEAM, "seam 1") == "inside the first seam at the exit"
    assert in_short(Code.TURN_IN_EARLY, "turn-in") == "turning in early"
    for code in Code:
        assert in_short(code, "") == code.means.short
        assert ("post" in in_short(code, "post")) is bool(code.means.short_at)


def test_who_ran_inside_the_seam(run, event):
    ride = run(seed=3).inside_seam("Barn").moved("Barn", "exit", -3.0)
    made = {"Ada": [run()], "Ben": [ride]}
    assert of(event(made), EventCode.INSIDE_SEAM) == []  # the calls still say outside

    class Called(type(ride)):
        def result(self):
            result = super().result()
            seams = result.tables["seams"]
            seams.loc[(seams["corner"] == "Barn") & (seams["lap"] > 2), "call"] = "inside"
            return result

    ride.__class__ = Called
    (seam,) = of(event(made), EventCode.INSIDE_SEAM)
    assert seam.text == "Inside the first seam at Barn: Ben in 4 of 6 laps."


def test_what_changed_between_runs_is_told_once(run, event):
    before, after = run("1"), run("2", seed=9)
    for lap in range(1, 7):
        before.corner("Barn", [lap], exit_radius_min_m=40.0 + 0.2 * lap)
        after.corner("Barn", [lap], exit_radius_min_m=50.0 + 0.2 * lap)
    (changed,) = of(event({"Ada": [before, after]}), EventCode.CHANGED)
    assert changed.text == "Ada, from run 1 to run 2: the exit is more open at Barn."
    assert of(event({"Ada": [run("1"), run("2", seed=9)]}), "changed") == []


def test_who_rides_unlike_his_group(run, event):
    riders = {}
    for i, name in enumerate(("Ada", "Ben", "Cy", "Dot", "Eli")):
        ride = run(seed=i)
        for lap in range(1, 7):
            ride.corner("Weir", [lap], exit_radius_min_m=50.0 + 0.7 * i)
        riders[name] = [ride]
    assert of(event(riders), EventCode.APART) == []
    riders["Cy"][0].corner("Weir", exit_radius_min_m=30.0)
    assert [f.text for f in of(event(riders), EventCode.APART)] == [
        "Cy rides Weir unlike the others in blue: a tighter exit."
    ]
    riders["Cy"][0].corner("Barn", exit_radius_min_m=30.0)
    for i, name in enumerate(riders):
        for lap in range(1, 7) if name != "Cy" else ():
            riders[name][0].corner("Barn", [lap], exit_radius_min_m=50.0 + 0.7 * i)
    (told,) = of(event(riders), "apart")
    assert told.text == "Cy rides Weir and Barn unlike the others in blue: a tighter exit."
    assert told.corner == ""


def test_logs_that_could_not_be_used_are_told_with_the_reason(run, event):
    lost = Unusable("Fay", "2", "fay-2.csv", "no fix has a time.")
    (told,) = of(event({"Ada": [run()]}, [lost]), "unusable")
    assert told.text == "Fay, run 2: the log could not be used, no fix has a time."


def test_sentences_in_feet_have_neither_metres_nor_signs(run, event, tight):
    riders = {
        "Ada": [run().moved("Weir", "apex", 1.6)],
        "Ben": [run(seed=5).corner("Barn", **tight)],
    }
    texts = [f.text for f in event(riders, units=Units.US)]
    assert any(" ft" in text for text in texts)
    for text in texts:
        assert not re.search(r"[-−+]\s*\d|\d\s*%|\bp =|nan|{|}| m ", text)
        assert text.endswith(".")


def test_whoever_drifts_is_named_with_the_corners_that_show_it(run, event):
    ride = run(laps=8, scatter_m=0.1)
    for name in ("Birch", "Quarry", "Weir"):
        for lap in range(1, 9):
            ride.moved(name, "apex", 0.3 * lap, [lap])
    (first,) = of(event({"Ada": [ride]}), EventCode.TALK_FIRST)
    assert first.text.startswith("Talk to Ada first: drifting wide over a run at ")
    assert all(name in first.text for name in ("Birch", "Quarry", "Weir"))
    assert "laps" not in first.text


def test_corners_that_are_numbers_are_called_corners_and_in_riding_order(run, course, tight):
    numbers = dict(zip(("Birch", "Quarry", "Weir", "Barn"), "1234", strict=True))
    numbered = replace(
        course, corners=tuple(replace(c, name=numbers[c.name]) for c in course.corners)
    )
    ride = run()
    for name in ("Barn", "Weir", "Quarry", "Birch"):
        ride.corner(name, **tight)
    made = ride.result()
    tables = {
        name: table.assign(corner=table["corner"].map(numbers)) if "corner" in table else table
        for name, table in made.tables.items()
    }
    made = replace(made, tables=tables)
    found = find([made], numbered)
    assert "An exit that tightens at Corner 1, Corner 3 and Corner 4 too." in found[0].details
    told = find_event([RiderReview(made.rider, "", (made,), found)], numbered)
    first = of(told, EventCode.TALK_FIRST)[0].text
    assert first.startswith(f"Talk to {made.rider} first: an exit that tightens at Corner 2 ")
