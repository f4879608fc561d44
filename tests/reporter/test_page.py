import base64
import hashlib
import json

import pytest
from jinja2 import UndefinedError

from lapkit.reporter.cautions import CAUTIONS
from lapkit.reporter.page import data_block, policy, render


def test_the_policy_names_the_script_by_its_hash_and_nothing_else():
    digest = base64.b64encode(hashlib.sha256(b"run()").digest()).decode()
    assert f"script-src 'sha256-{digest}';" in policy("run()")
    assert "script-src 'none';" in policy("")
    assert policy("").startswith("default-src 'none';")


def test_nothing_in_a_block_of_data_can_end_it():
    data = {"run": "</script><!-- & é"}
    block = data_block(data)
    assert "<" not in block and "&" not in block and block.isascii()
    assert json.loads(block) == data


def season(**words):
    words = {"heading": "H", "facts": (), "events_head": (), "events": (), "habits": ()} | words
    words |= {"changes": (), "unchanged": "", "trouble": (), "over": "", "corners": ()}
    words |= {"line_note": ""}
    return render("season.html.j2", title="T", words=words, version="0")


def test_text_is_escaped_freed_of_control_characters_and_cut_where_it_is_no_name():
    page = season(heading="<b>\x1b[2J")
    assert "<h1>&lt;b&gt;\N{REPLACEMENT CHARACTER}[2J</h1>" in page
    assert f"<h1>{'x' * 999}…</h1>" in season(heading="x" * 2000)


def test_every_page_carries_the_cautions():
    page = season()
    assert all(caution in page for caution in CAUTIONS)


def test_a_name_that_a_template_was_not_given_is_an_error():
    with pytest.raises(UndefinedError):
        render("season.html.j2", title="T", version="0")
