"""The call word and push to talk, by words and times alone."""

from __future__ import annotations

import pytest

from bench_voice.core.intents import Expected
from bench_voice.errors import UsageError
from bench_voice.grammar.jsgf import jsgf
from bench_voice.grammar.vocabulary import vocabulary
from bench_voice.ports import Heard
from bench_voice.session.modes import CallWord, PushToTalk, after_call, called, check_call_word
from bench_voice.speech.phrases import load_language
from bench_voice.testing import reading, small_sheet, step

ENGLISH = load_language("en")
SHEET = small_sheet(step("measure", readings=["wear"]), readings=[reading("wear", low="2.0")])


@pytest.mark.parametrize(
    ("words", "rest"),
    [
        ("bench next", "next"),
        ("bench", ""),
        ("bench three point one", "three point one"),
        ("next", None),
        ("next bench", None),
        ("the bench next", None),
        ("workbench next", None),
        ("", None),
        ("benches next", None),
    ],
)
def test_words_behind_the_call_word(words: str, rest: str | None) -> None:
    assert after_call(words, "bench") == rest


def test_a_call_word_of_two_words() -> None:
    assert after_call("hey bench go back", "hey bench") == "go back"
    assert after_call("hey you go back", "hey bench") is None


def test_every_ear_must_have_heard_it_and_the_free_words_count() -> None:
    first = Heard("a", "bench next", alternatives=(("bench go back", 0.2), ("next", 0.1)))
    both = called([first, Heard("b", "bench next", free_words="bench next")], "bench")
    assert both.is_for_us
    assert not both.is_bare
    assert [(one.words, one.free_words) for one in both.heard] == [("next", None), ("next", "next")]
    assert both.heard[0].alternatives == (("go back", 0.2),)
    # Held to the grammar both ears hear it; what was said freely is talk.
    assert not called([first, Heard("b", "bench next", free_words="then he went next door")], "bench").is_for_us
    assert not called([Heard("a", "next"), Heard("b", "", free_words="bench next")], "bench").is_for_us
    assert not called([Heard("a", ""), Heard("b", "", free_words="")], "bench").is_for_us
    # An ear that heard nothing is no witness against it.
    assert called([Heard("a", ""), Heard("b", "", free_words="bench next")], "bench").is_for_us


def test_two_free_ears_outvote_a_grammar_in_noise_and_each_other_never() -> None:
    noise = Heard("a", "next")
    free = [
        Heard(name, "", free_words=said) for name, said in (("b", "bench next"), ("c", "bench next"), ("c", "hatch"))
    ]
    both = called([noise, *free[:2]], "bench")
    assert both.is_for_us
    assert [(one.words, one.free_words) for one in both.heard] == [("", None), ("", "next"), ("", "next")]
    assert not called([noise, free[0], free[2]], "bench").is_for_us
    assert not called([Heard("a", "bench next"), free[0], free[2]], "bench").is_for_us


def test_after_the_word_alone_the_next_utterance_needs_none_for_a_while() -> None:
    word = CallWord("bench")
    bare = word.take([Heard("a", "bench")], 10.0)
    assert bare.is_for_us
    assert bare.is_bare
    assert not word.is_needed
    talk = word.take([Heard("a", "next")], 12.0)
    assert talk.is_for_us
    assert talk.heard[0].words == "next"
    assert word.is_needed
    assert not word.take([Heard("a", "next")], 13.0).is_for_us
    word.take([Heard("a", "bench")], 20.0)
    assert not word.take([Heard("a", "next")], 28.5).is_for_us, "the time is over"


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("", "is empty"),
        ("one two three four", "has 4 words"),
        ("b4nch", "cannot be spoken"),
        ("brrr", "cannot be spoken"),
        ("next please", "begins as a command"),
        ("five", "begins as a command or a number"),
        ("note", "begins as a command"),
        ("blorptwangle", 'does not know the call word "blorptwangle"'),
    ],
)
def test_a_call_word_that_cannot_work_is_refused_with_what_to_choose(word: str, says: str) -> None:
    with pytest.raises(UsageError, match=rf"{says}.*\[call-word\]$"):
        check_call_word(word, ENGLISH, lambda w: w != "blorptwangle")


def test_a_call_word_that_can_work() -> None:
    assert check_call_word("  Hey  Bench ", ENGLISH, lambda word: True) == "hey bench"


def test_the_dictionary_knows_usual_words_and_no_others() -> None:
    from bench_voice.audio.factory import has_pronunciation

    assert has_pronunciation("bench")
    assert not has_pronunciation("blorptwangle")


def test_the_grammar_puts_the_call_word_in_front() -> None:
    expected = Expected.at(SHEET, SHEET.steps[0])
    plain, needed = vocabulary(expected, ENGLISH), vocabulary(expected, ENGLISH, call="bench")
    may = vocabulary(expected, ENGLISH, call="bench", is_call_needed=False)
    assert "bench" not in plain.words()
    assert "bench" in needed.words()
    assert "<utterance> = bench <sentence> | bench;" in jsgf(needed)
    assert "<utterance> = [bench] <sentence> | bench;" in jsgf(may)
    assert jsgf(needed).replace("bench <sentence> | bench", "").count("bench") == 0


def test_a_key_pressed_once_begins_and_pressed_again_ends() -> None:
    talk = PushToTalk()
    assert not talk.is_open(0.0)
    talk.press(1.0)
    assert talk.is_open(1.1)
    assert talk.is_open(8.0)
    talk.press(9.0)
    assert not talk.is_open(9.1)


def test_a_key_that_is_held_repeats_and_ends_when_it_is_let_go() -> None:
    """Terminals: the first repeat after 0.25 to 0.75 s, then about thirty a second."""
    talk = PushToTalk()
    talk.press(1.0)
    for count in range(30):
        talk.press(1.5 + count / 30)
    assert talk.is_open(2.6)
    assert not talk.is_open(2.9)


def test_a_pedal_tells_when_it_is_let_go() -> None:
    talk = PushToTalk()
    talk.press(1.0)
    talk.release(3.0)
    assert not talk.is_open(3.0)
    talk.press(5.0)
    talk.release(5.2)
    assert talk.is_open(6.0), "a short press stays open until the next"
