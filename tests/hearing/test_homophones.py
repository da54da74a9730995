"""A hold's phrase cut into other words. What sounds the same is by the CMU pronouncing dictionary that pocketsphinx
ships; that "a name" and "an aim" sound alike, and what is run together in speech, is common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench_voice.hearing.agree import Act, agree
from bench_voice.hearing.homophones import as_phrase
from bench_voice.phonetics import no_ways, spoken
from bench_voice.ports import Heard
from bench_voice.session.listen import at_hold
from tests.corpus import texts
from tests.hearing.test_three import third
from tests.hearing.test_weigh import AT, LANGUAGE, first, judge, second

PHRASE = "confirm sleeves are tied back"


def spelt(text: str, phrase: str = PHRASE) -> str | None:
    return as_phrase((second(text),), phrase, spoken)[0].free_words


@pytest.mark.parametrize(
    ("phrase", "written"),
    [
        (PHRASE, "confirms leaves are tied back"),
        (PHRASE, "confirms leaves or tied back"),
        (PHRASE, "can firm sleeves are tied back"),
        (PHRASE, "confirm sleeves are tide back"),
        ("confirm the switch is locked off", "confirm this which is locked off"),
        ("confirm plug is out and in sight", "confirm plug is out and insight"),
        ("confirm area around sprayer is empty", "confirm area around spray or is empty"),
        ("confirm area around sprayer is empty", "confirmary around spray or zempty"),
        ("confirm area around sprayer is empty", "confirm area around sprayer's empty"),
        ("confirm drum is blocked", "confirm drums blocked"),
        ("confirm chuck key is out", "confirm chucky is out"),
        ("confirm a name is on it", "confirm an aim is on it"),
        (PHRASE, " ".join(["confirm sleeves or tied back"] * 3) + " confirm"),
        ("confirm chuck key has been removed", "confirm chuck keys been removed"),
    ],
)
def test_the_same_sounds_in_other_words_are_the_phrase(phrase: str, written: str) -> None:
    assert spelt(written, phrase) == phrase


@pytest.mark.parametrize(
    "written",
    [
        "conform sleeves are tied back",
        "confirm leaves are tied back",
        "confirm sleeves were tied back",
        "confirm sleeves are not tied back",
        "confirm sleeves are tied",
        "confirmed sleeves are tied back",
        "sleeves are tied back",
        "confirms leaves or tied black",
        "confirm xyzzy are tied back",
        "confirm zsleeves are tied back",
        "confirm a sleeves are tied back",
        "confirm sleeves are or tied back",
        "confirm sleeves are tied back or",
        "confirm sleeves are not tied back confirm sleeves are not tied back",
    ],
)
def test_one_sound_more_or_less_or_another_is_not(written: str) -> None:
    assert spelt(written) == written


def test_two_words_that_sound_like_one_of_the_phrase_are_that_word_and_nothing_else_changes() -> None:
    phrase = "confirm area around sprayer is empty"
    assert spelt("confirm every round spray or empty", phrase) == "confirm every round sprayer empty"
    for other in ("confirm area around sprayer or empty", "confirm sleeves are not tied back", "if area is empty"):
        assert spelt(other, phrase) == other


def test_no_near_miss_of_any_part_sounds_like_its_phrase() -> None:
    tried = 0
    for part in texts.SHEETS:
        for said in texts.near_misses(part):
            hold = texts.expected_of(said.sheet, said.step).hold
            assert hold is not None
            found = as_phrase((second(said.text),), hold.phrase, spoken)[0]
            assert found.free_words == said.text, (said.text, hold.phrase)
            tried += 1
    assert tried > 300


def test_only_what_free_ears_wrote_is_spelt_and_the_evidence_tells_of_it() -> None:
    forced = first("confirms leaves are tied back")
    free = second("confirms leaves are tied back", "confirms leaves or tied back")
    assert as_phrase((forced,), PHRASE, spoken) == (forced,)
    (found,) = as_phrase((free,), PHRASE, spoken)
    assert (found.words, found.free_words, found.evidence["same_sound"]) == (PHRASE, PHRASE, 1.0)
    same = second(PHRASE)
    assert as_phrase((same,), PHRASE, spoken) == (same,)


def test_without_a_dictionary_nothing_changes() -> None:
    heard = (second("confirms leaves are tied back"),)
    assert as_phrase(heard, PHRASE, no_ways) == heard


def test_only_the_phrase_of_the_hold_that_is_waited_for_counts() -> None:
    split = "can firm drum is blocked"
    heard = (first("confirm drum is blocked"), second(split), third(split), judge(split))
    assert at_hold(heard, AT["measure"], spoken) == heard  # no hold there
    assert agree(AT["block"], heard, LANGUAGE).kind is not Act.RECORD
    assert agree(AT["block"], at_hold(heard, AT["block"], spoken), LANGUAGE).kind is Act.RECORD


WORDS = ("confirm", "confirms", "sleeves", "leaves", "are", "or", "not", "tied", "tide", "back")


@given(st.lists(st.sampled_from(WORDS), max_size=8))
def test_whatever_is_written_a_denial_never_becomes_the_phrase(words: list[str]) -> None:
    text = " ".join(words)
    found = as_phrase((Heard("whisper", text, free_words=text),), PHRASE, spoken)[0].free_words
    assert found in (text, PHRASE)
    if "not" in words:
        assert found == text
