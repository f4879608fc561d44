"""How many processes a machine gets."""

import os

from lapkit.workers import cores


def test_cores_are_those_that_this_process_may_use(monkeypatch):
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 3, 5}, raising=False)
    assert cores() == 3


def test_where_a_system_does_not_tell_they_are_the_machines(monkeypatch):
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 6)
    assert cores() == 6
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert cores() == 1
