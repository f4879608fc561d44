from dataclasses import replace

from lapkit.findings import EventCode, EventFinding, Kind
from lapkit.reporter.terminal import done_text


def test_the_terminal_says_whom_of_several_to_talk_to_first(event, tmp_path):
    talk = tuple(EventFinding(EventCode.TALK_FIRST, f"Talk to {name}.") for name in "ABCD")
    several = replace(event, findings=(*talk, EventFinding(EventCode.CHANGED, "Bo changed.")))
    said = done_text(several, tmp_path, [])
    assert [name for name in "ABCD" if f"Talk to {name}." in said] == ["A", "B", "C"]
    assert "\nAnd 1 more rider.\n" in said
    assert "Bo changed." not in said
    three = replace(several, findings=talk[:3])
    assert "more rider" not in done_text(three, tmp_path, [])
    assert "Talk to" not in done_text(replace(several, riders=event.riders[:1]), tmp_path, [])


def test_the_terminal_tells_a_single_rider_what_his_page_says_first(event, tmp_path):
    # Bo keeps to the line; a finding about one corner names it, one about the whole course names none.
    bo = event.riders[1]
    alone = replace(event, riders=(bo,))
    assert not [f for f in bo.findings if f.kind is Kind.WORK]
    assert "\nNothing stands out: nothing was off the coach’s line " in done_text(
        alone, tmp_path, []
    )

    at_one, at_all = event.riders[0].findings[:2]
    early = replace(at_one, corner="7", text="Turned in early.")
    said = done_text(replace(alone, riders=(replace(bo, findings=(early,)),)), tmp_path, [])
    assert "\nWork on this first: Corner 7. Turned in early.\n" in said
    whole = replace(at_all, kind=Kind.WORK)
    said = done_text(replace(alone, riders=(replace(bo, findings=(whole,)),)), tmp_path, [])
    assert "\nWork on this first: Uneven.\n" in said
    assert "Work on this first" not in done_text(event, tmp_path, [])
    # Whether the talk between two runs helped.
    again = replace(
        alone, findings=(EventFinding(EventCode.CHANGED, "Bo, from run 1 to run 2: less lean."),)
    )
    assert "to be called.\nBo, from run 1 to run 2: less lean.\n" in done_text(again, tmp_path, [])


def test_the_terminal_names_the_page_to_open_and_that_there_are_sheets_to_print(event, tmp_path):
    page = tmp_path / "event.html"
    assert done_text(event, tmp_path, [page]).endswith(f"\nOpen {page}")
    said = done_text(event, tmp_path, [page], printable_sheets=True)
    assert said.endswith(f"\nOpen {page}; sheets to print (PDF) lie beside it")
    assert "sheets to print" not in done_text(event, tmp_path, [], printable_sheets=True)


def test_the_terminal_says_nothing_twice_of_a_rider_without_a_track_file(found_event, tmp_path):
    said = done_text(found_event, tmp_path, [])
    assert "There is no track file" in said
    assert "No habit can be told" not in said and "Nothing stands out" not in said
