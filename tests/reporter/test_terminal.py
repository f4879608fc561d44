from dataclasses import replace

from lapkit.findings import EventCode, EventFinding
from lapkit.reporter.terminal import done_text


def test_the_terminal_says_whom_of_several_to_talk_to_first(event, tmp_path):
    talk = tuple(EventFinding(EventCode.TALK_FIRST, f"Talk to {name}.") for name in "ABCD")
    several = replace(event, findings=(*talk, EventFinding(EventCode.CHANGED, "Bo changed.")))
    said = done_text(several, tmp_path, [])
    assert [name for name in "ABCD" if f"Talk to {name}." in said] == ["A", "B", "C"]
    assert "Bo changed." not in said
    assert "Talk to" not in done_text(replace(several, riders=event.riders[:1]), tmp_path, [])
