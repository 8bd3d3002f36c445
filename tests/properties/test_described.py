"""What to write instead of a word that is not known."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from noonhearth.model import nearest_name, suggestion

FOODS = ["rice", "beans", "potatoes", "maize-porridge"]


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("potatos", "potatoes"),
        ("Rice", "rice"),
        ("BEAN", "beans"),
        ("maize", "maize-porridge"),
        ("xylophone", None),
        ("", None),
    ],
)
def test_the_nearest_word_is_found_whatever_its_case(word: str, near: str | None) -> None:
    assert nearest_name(word, FOODS) == near


def test_capitals_of_the_known_word_are_kept() -> None:
    assert nearest_name("degc", ["K", "degC", "degF"]) == "degC"
    assert nearest_name("kj", ["J", "kJ", "MJ"]) == "kJ"


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(FOODS), st.integers(0, 3))
def test_a_word_that_lost_one_letter_finds_itself(name: str, place: int) -> None:
    assert nearest_name(name[:place] + name[place + 1 :], FOODS) == name


def test_where_none_is_near_all_are_listed() -> None:
    assert suggestion("potatos", FOODS) == "did you mean potatoes?"
    assert suggestion("xylophone", FOODS) == "there are: rice, beans, potatoes, maize-porridge"
    assert suggestion("rice", iter([])) == "there are none"
