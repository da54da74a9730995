"""The call word and push to talk, by words and times alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Expected, Kind
from bench_voice.errors import EarFailed, UsageError
from bench_voice.grammar.jsgf import jsgf
from bench_voice.grammar.vocabulary import vocabulary
from bench_voice.ports import Fit, Heard, Pass, Utterance
from bench_voice.session.listen import Listener
from bench_voice.session.modes import CallWord, PushToTalk, after_call, called, check_call_word
from bench_voice.testing import reading, small_sheet, step
from bench_voice.words.phrases import load_language

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
    wrote = [
        Heard(name, "", free_words=said) for name, said in (("b", "bench next"), ("c", "bench next"), ("c", "hatch"))
    ]
    both = called([noise, *wrote[:2]], "bench")
    assert both.is_for_us
    assert [(one.words, one.free_words) for one in both.heard] == [("", None), ("", "next"), ("", "next")]
    assert not called([noise, wrote[0], wrote[2]], "bench").is_for_us
    assert not called([Heard("a", "bench next"), wrote[0], wrote[2]], "bench").is_for_us


def free(ear: str, said: str, *fits: str) -> Heard:
    return Heard(
        ear, "", evidence={"free": -0.2}, free_words=said, fits=tuple(Fit(text, 0.0, -0.1, 2.0) for text in fits)
    )


def test_what_was_judged_with_the_call_word_is_given_without_it() -> None:
    """The judging ear was asked about whole sentences; what is left of each is compared with what the ears meant."""
    judge = free("d", "bench next", "bench next", "bench go back", "benches next", "next", "bench")
    found = called([Heard("a", "bench next"), free("b", "bench next"), judge], "bench")
    assert found.is_for_us
    assert [fit.words for fit in found.heard[2].fits] == ["next", "go back"]  # what doesn't begin with it is no command
    assert found.heard[2].fits[0] == Fit("next", 0.0, -0.1, 2.0)


@pytest.mark.parametrize("missed", [0, 1, 2])
@pytest.mark.parametrize("first", ["bench next", "ten", ""])
def test_where_two_free_ears_heard_it_a_third_may_have_missed_it(first: str, missed: int) -> None:
    said = ["hatch next" if at == missed else "bench next" for at in range(3)]
    ears = [replace(free(name, text, "bench next"), words=text) for name, text in zip("bcd", said, strict=True)]
    found = called([Heard("a", first), *ears], "bench")
    assert found.is_for_us
    assert not found.is_bare
    assert found.heard[0].words == ("next" if first == "bench next" else "")
    for at, one in enumerate(found.heard[1:]):
        assert [fit.words for fit in one.fits] == ["next"]  # it was asked about the whole sentence
        if at == missed:  # nothing of what it heard speaks for or against the command
            assert (one.words, one.weight, one.alternatives, one.free_words) == ("", 0.0, (), "")
        else:
            assert (one.words, one.free_words) == ("next", "next")


def test_one_free_ear_of_three_calls_nobody() -> None:
    """Nor does one ear that answers twice, or that heard the word alone with nothing behind it twice over."""
    for others in (("hatch next", "next"), ("hatch next", "")):
        heard = [
            Heard("a", "bench next"),
            free("b", "bench next"),
            *(free(n, t) for n, t in zip("cd", others, strict=True)),
        ]
        assert not called(heard, "bench").is_for_us
    assert not called([free("b", "bench next"), free("b", "bench next"), free("c", "hatch")], "bench").is_for_us


def test_the_word_alone_in_two_free_ears_is_bare_whatever_a_third_heard() -> None:
    found = called([Heard("a", "ten"), free("b", "bench"), free("c", "bench"), free("d", "hatch")], "bench")
    assert found.is_for_us
    assert found.is_bare


class CalledEars:
    """Hears a sentence with the call word; keeps what it was asked about."""

    names = ("pocketsphinx", "whisper", "whisper-tiny", "moonshine")

    def __init__(self, *said: str) -> None:
        self.said, self.looks, self.asked = said, list[Pass](), list[tuple[str, ...]]()

    def unloaded(self) -> tuple[EarFailed, ...]:
        return ()

    def leave_out(self, name: str) -> None: ...

    def prepare(self, expected: Expected) -> None: ...

    def hear(self, utterance: Utterance, is_enough: object = None) -> tuple[Heard, ...]:
        evidence = {"speech_s": 1.5, "no_speech": 0.0, "free": -0.1}
        first, *others = self.said
        *whispers, judge = (
            Heard(ear, "", 0.0, evidence=evidence, free_words=text)
            for ear, text in zip(self.names[1:], others, strict=True)
        )
        heard_first = Heard(self.names[0], first, evidence={"speech_s": 1.5, "words": float(len(first.split()))})
        return (heard_first, *whispers, replace(judge, words=judge.free_words or "", weight=0.9))

    def more(
        self, utterance: Utterance, heard: Sequence[Heard], which: Pass, texts: Sequence[str] = ()
    ) -> tuple[Heard, ...]:
        self.looks.append(which)
        first, *whispers, judge = heard
        if which is Pass.OPINION:
            self.asked.append(tuple(texts))
            return (first, *whispers, replace(judge, fits=tuple(Fit(text, 0.0, -0.1, 4.0) for text in texts)))
        fit = {"per_frame": -2.5, "worst": -7.0, "phones": 1.4}
        closer = (
            replace(one, words=one.free_words or "", weight=0.9, evidence={**one.evidence, "limited": -0.2})
            for one in whispers
        )
        return (replace(first, evidence={**first.evidence, **fit}), *closer, judge)

    def close(self) -> None: ...


SAID = "wear three point one millimetres"


@pytest.mark.parametrize("call", ["bench", "hey bench"])
@pytest.mark.parametrize("is_needed", [True, False], ids=["called", "attentive"])
def test_the_judge_is_asked_about_whole_sentences_with_their_call_word(call: str, is_needed: bool) -> None:
    """It heard the call word too: a text without it could never fit the sound."""
    lead = f"{call} " if is_needed else ""
    ears = CalledEars(f"{lead}ten", *[f"{lead}{SAID}"] * 3)
    word = CallWord(call, open_until_s=float("-inf") if is_needed else 100.0)
    listener = Listener(ears, ENGLISH, lambda heard: word.peek(heard, 10.0))
    expected = Expected.at(SHEET, SHEET.steps[0])
    heard = listener.hear(Utterance(bytes(640), 0, 1500, 1.5), expected)
    assert ears.looks == [Pass.CLOSER, Pass.OPINION]
    (asked,) = ears.asked
    assert f"{lead}{SAID}" in asked
    assert all(text.startswith(lead) for text in asked)
    ours = word.take(heard, 10.0).heard
    assert SAID in [fit.words for fit in ours[3].fits]
    intent = listener.meaning(ours, expected)
    assert intent is not None
    assert (intent.kind, str(flat_of(intent).value)) == (Kind.READING, "3.1")


def test_what_was_not_called_is_looked_at_by_no_ear() -> None:
    ears = CalledEars("ten", SAID, SAID, SAID)
    listener = Listener(ears, ENGLISH, lambda heard: CallWord("bench").peek(heard, 10.0))
    listener.hear(Utterance(bytes(640), 0, 1500, 1.5), Expected.at(SHEET, SHEET.steps[0]))
    assert ears.looks == []


def test_a_judge_that_missed_the_call_word_is_asked_once_and_heard() -> None:
    """What it wrote is left out; its opinion is on the whole sentences of the others."""
    ears = CalledEars("bench ten", f"bench {SAID}", f"bench {SAID}", "hatch where three pointers")
    word = CallWord("bench")
    listener = Listener(ears, ENGLISH, lambda heard: word.peek(heard, 10.0))
    expected = Expected.at(SHEET, SHEET.steps[0])
    heard = listener.hear(Utterance(bytes(640), 0, 1500, 1.5), expected)
    assert ears.looks == [Pass.CLOSER, Pass.OPINION]
    intent = listener.meaning(word.take(heard, 10.0).heard, expected)
    assert intent is not None
    assert (intent.kind, str(flat_of(intent).value)) == (
        Kind.READING,
        "3.1",
    )  # the Whispers wrote it, the judge bears it out


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
