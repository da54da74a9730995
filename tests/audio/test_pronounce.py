"""The person's own pronunciations: read, merged over the sheet's, and heard by the first ear's decoder.

Phones are held against the CMU pronouncing dictionary that pocketsphinx ships.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from bench_voice import config
from bench_voice.audio import factory
from bench_voice.audio.ear_pocketsphinx import Decoder
from bench_voice.audio.own_words import read_own
from bench_voice.core.intents import Expected
from bench_voice.core.sheet import JobSheet, Pronunciation, Step
from bench_voice.errors import UsageError
from bench_voice.phonetics import CLASS_OF, PHONES, dictionary, merged, parse_own, phones_of
from bench_voice.ports import Utterance
from bench_voice.words.phrases import load_language

OWN = """# how I say it
Spacer  S P EY S ER   # at home

grommet grow met
spacer S P AA S ER
"""


def test_phones_are_those_of_the_dictionary() -> None:
    assert PHONES == dictionary().phones() == set(CLASS_OF)


def test_the_own_file_is_read() -> None:
    assert parse_own(OWN, "own.txt") == {"spacer": "S P AA S ER", "grommet": "grow met"}
    assert parse_own("", "own.txt") == {}


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("spacer", '"spacer" is not a word'),
        ("m8 EH M", "is not a word"),
        ("spacer S P QQ", '"S" is neither a phone nor a word'),
        ("spacer spay-ser", '"spay-ser" is neither'),
    ],
)
def test_a_line_that_says_nothing_is_named(line: str, says: str) -> None:
    with pytest.raises(UsageError, match=rf"^own\.txt line 2: .*{says}.*\[pronunciations\]$"):
        parse_own(f"hub HH AH B\n{line}\n", "own.txt")


def test_no_file_is_no_fault_and_a_folder_is(tmp_path: Path) -> None:
    assert read_own(None) == {} == read_own(tmp_path / "none.txt")
    with pytest.raises(UsageError, match=r"cannot be read.*\[pronunciations\]$"):
        read_own(tmp_path)


def test_where_the_file_is(tmp_path: Path) -> None:
    settings = tmp_path / "config.toml"
    assert config.load(settings).pronunciations == tmp_path / "pronunciations.txt"
    settings.write_text('pronunciations = "/elsewhere/own.txt"\n', "utf-8")
    assert config.load(settings).pronunciations == Path("/elsewhere/own.txt")


def test_the_persons_own_goes_before_the_sheets() -> None:
    sheet = {
        "grommet": Pronunciation("grommet", ("G", "R", "AA", "M", "IH", "T"), "grommit"),
        "hub": Pronunciation("hub", ("HH", "AH", "B")),
        "zink": Pronunciation("zink", (), "zinc"),
        "mute": Pronunciation("mute", ()),
    }
    assert merged(sheet, {"grommet": "grow met"}) == {"grommet": "grow met", "hub": "HH AH B", "zink": "zinc"}


def test_known_words_are_joined() -> None:
    known = {"grow": "G R OW", "met": "M EH T"}
    assert phones_of("grow met", known.get) == "G R OW M EH T"
    assert phones_of("S P EY S ER", known.get) == "S P EY S ER"
    assert phones_of("", known.get) is None
    assert phones_of("12", known.get) is None


def test_the_decoder_takes_them_before_it_guesses() -> None:
    decoder = Decoder(has_phone_loop=False)
    text = "#JSGF V1.0;\ngrammar g;\npublic <u> = zzyzxq | spacer | next;\n"
    words = ("zzyzxq", "spacer", "next")
    pairs = (("zzyzxq", "zig sick"), ("spacer", "S P AA S ER"), ("spacer", "S P EY S ER"))
    # Said by somebody: not a guess any more. Twice the same adds nothing.
    assert decoder.prepare((text, words, pairs)) == ()
    assert decoder.prepare((text, words, pairs)) == ()
    assert decoder.has_words(("zzyzxq", "spacer(2)", "spacer(3)")) == (True, True, False)
    assert decoder.prepare((text, words)) == (), "a plan without pronunciations still works"


def test_a_word_is_heard_as_its_owner_says_it(say: Callable[[str], Utterance]) -> None:
    """ "Next" was never a way to say "zzyzxq" or "affirm", until somebody says so."""
    decoder, said = Decoder(has_phone_loop=False), say("next")
    grammar = "#JSGF V1.0;\ngrammar g;\npublic <u> = affirm | zzyzxq | stop the job | go back;\n"
    words = ("affirm", "zzyzxq", "stop", "the", "job", "go", "back")
    decoder.prepare((grammar, words))
    assert decoder.hear(said).words not in ("affirm", "zzyzxq")
    decoder.prepare((grammar, words, (("affirm", "next"),)))
    assert decoder.hear(said).words == "affirm", "a word of the dictionary has one more way"
    other = Decoder(has_phone_loop=False)
    other.prepare((grammar, words, (("zzyzxq", "N EH K S T"),)))
    assert other.hear(said).words == "zzyzxq", "a word that it lacks has this one"


def test_the_plan_for_the_first_ear_has_what_the_grammar_needs(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[SimpleNamespace] = []

    def process_ear(name: str, target: str, plan: object, **more: object) -> SimpleNamespace:
        made.append(SimpleNamespace(name=name, plan=plan))
        return made[-1]

    monkeypatch.setattr("bench_voice.audio.ear_process.ProcessEar", process_ear)
    said = {"tape": Pronunciation("tape", ("T", "EY"))}
    sheet = JobSheet("s", "S", "1", "pump", "one", (Step("one", "Look."),), pronunciations=said)
    own = {"next": "N EH K S", "walrus": "W AO L"}
    factory.make_ears(["pocketsphinx"], load_language("en"), own=own)
    grammar, words, pairs = made[0].plan(Expected.at(sheet, sheet.steps[0]))
    assert pairs == (("next", "N EH K S"), ("tape", "T EY")), "only words that the grammar holds"
    assert "next" in words
    assert "walrus" not in grammar
