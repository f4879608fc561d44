import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapkit.reporter.slugs import distinct_slugs, slug


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Änne Lind", "anne-lind"),
        ("Łukasz Đorđević", "lukasz-dordevic"),
        ("Þór Bjørn Weiß", "thor-bjorn-weiss"),
        ("../../etc/passwd", "etc-passwd"),
        ("\n\t", "rider"),
        ("中", "rider"),
        ("a" * 300, "a" * 60),
        ("con.", "con"),
    ],
)
def test_a_name_becomes_plain_small_letters_digits_and_dashes(name, expected):
    assert slug(name) == expected


@given(st.lists(st.text(), unique=True, max_size=12))
def test_no_two_riders_share_a_slug(names):
    slugs = distinct_slugs(names)
    assert len(set(slugs.values())) == len(names)
    assert all(s and set(s) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") for s in slugs.values())
