"""Letters to sounds, held against the CMU pronouncing dictionary that pocketsphinx ships: against its words that the
table was not made from and that are left out of what it may look up."""

from __future__ import annotations

import pytest

from bench_voice.phonetics import PHONES, dictionary, phones, proposal, propose
from bench_voice.phonetics.graphemes import WINDOWS, _letters, by_letters
from tests.phonetics.teach import PARTS, entries, error_rate, left_out, part_of


def test_phone_error_rate_on_words_that_no_choice_has_seen() -> None:
    """9.2 % of phones wrong, 39.4 % of words with one or more; by the table alone 9.8 and 43.0 %. Two tables that
    stood here before had 20.7 and 21.5 %. Many of the words are names of people and places."""
    pairs = list(entries(dictionary().lines(), "report"))
    assert len(pairs) > 5_000
    phones, words = error_rate(pairs, lambda word: propose(word, left_out("report")))
    assert phones < 0.095
    assert words < 0.40
    alone, _ = error_rate(pairs, by_letters)
    assert phones < alone < 0.10


def test_no_word_is_in_two_parts() -> None:
    every = [number for numbers in PARTS.values() for number in numbers]
    assert sorted(every) == list(range(20))
    assert left_out("report")("circle") is None or part_of("circle") not in PARTS["report"]
    assert all(left_out("report")(word) is None for word, _ in [*entries(dictionary().lines(), "report")][:50])


def test_the_table_says_every_letter_with_phones_and_no_context_twice() -> None:
    table = _letters()
    assert {f"[{letter}]" for letter in "abcdefghijklmnopqrstuvwxyz"} <= set(table)
    assert {phone for said in table.values() for phone in said.split()} == PHONES
    shapes = {(key.index("["), len(key) - key.index("]") - 1) for key in table}
    assert shapes <= set(WINDOWS)


@pytest.mark.parametrize(
    ("word", "said"),
    [
        # How they are said is common practice, no source; none of them is in the dictionary.
        ("circlip", "S ER K L IH P"),
        ("grommet", "G R AA M IH T"),
        ("swarf", "S W AO R F"),
        ("knurled", "N ER L D"),
        ("clevis", "K L EH V IH S"),
        ("torqued", "T AO R K T"),
        ("retorqued", "R IY T AO R K T"),
        ("shimmed", "SH IH M D"),
        ("wheelnut", "W IY L N AH T"),
        ("locknuts", "L AA K N AH T S"),
        ("splitpin", "S P L IH T P IH N"),
        ("crankcase", "K R AE NG K EY S"),
        ("halfshaft", "HH AE F SH AE F T"),
        ("driveshaft", "D R AY V SH AE F T"),
        # British spelling: as the American word in the dictionary.
        ("tyres", "T AY ER Z"),
        ("millilitre", "M IH L AH L IY T ER"),
    ],
)
def test_words_of_the_bench(word: str, said: str) -> None:
    assert proposal(word) == said or said.split() in [list(way) for way in dictionary()[word]]


@pytest.mark.parametrize(
    ("word", "first"),
    [
        # Made-up words. English spelling: c and g are soft before e and i, silent k and w before n and r (common
        # practice, no source).
        ("cest", "S"), ("cilp", "S"), ("cavt", "K"), ("cumt", "K"), ("gumt", "G"), ("gavt", "G"), ("gendle", "JH"),
        ("wrimp", "R"), ("knub", "N"), ("gnast", "N"), ("phint", "F"), ("shont", "SH"),
        ("chint", "CH"), ("thrint", "TH"), ("quint", "K"),
    ],
)  # fmt: skip
def test_letters_at_a_beginning(word: str, first: str) -> None:
    assert by_letters(word).split()[0] == first


def test_signs_have_no_sound() -> None:
    assert propose("m8", dictionary().lookup) is None
    assert proposal("m8") == ""
    assert proposal("o'ring") == "AO R IH NG"


def test_endings_are_those_of_the_dictionary() -> None:
    """Plurals and pasts that the dictionary has beside their stems; "alfred" and "hundred" are among them."""
    rates = {}
    for ending, end in (("s", phones.with_s), ("ed", phones.with_ed)):
        same = tried = 0
        for line in dictionary().lines()[::7]:
            word = line.split(" ")[0]
            stem = dictionary()[word.removesuffix(ending)] if word.isalpha() and word.endswith(ending) else ()
            if stem and len(word) > 4 and not word.endswith("ss"):
                tried += 1
                same += end(stem[0]) in dictionary()[word]
        assert tried > 250
        rates[ending] = same / tried
    assert rates["s"] > 0.92
    assert rates["ed"] > 0.85
