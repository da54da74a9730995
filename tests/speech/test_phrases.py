"""Language files are proofread at load: file, line, mending, slug."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from bench_voice.core.intents import Kind
from bench_voice.words.phrases import COMMAND_KINDS, LEAD_KINDS, LanguageError, grammars_dir, load_language

CODES = sorted(path.name for path in grammars_dir().iterdir() if (path / "numbers.yaml").exists())

# interface.md, "Words that are fixed": English says them so.
FIXED = {
    Kind.NEXT: ["next", "next step"], Kind.BACK: ["go back"], Kind.REPEAT: ["say again"],
    Kind.WHERE: ["where are we"], Kind.LEFT: ["what is left"], Kind.HELP: ["which words"],
    Kind.STOP: ["stop the job"], Kind.REDO: ["do it again"], Kind.CORRECTION: ["correction"],
    Kind.UNDO: ["strike that"], Kind.STAND_BY: ["stand by"], Kind.CARRY_ON: ["carry on"], Kind.MARK: ["mark"],
    Kind.AFFIRM: ["affirm"], Kind.NEGATIVE: ["negative"],
}  # fmt: skip


def test_english_and_german_are_there() -> None:
    assert CODES == ["de", "en"]


def test_the_fixed_phrases() -> None:
    language = load_language("en")
    for kind, phrases in FIXED.items():
        assert language.commands[kind][: len(phrases)] == tuple(phrases)
    leads = {Kind.NOTE: "note", Kind.REMINDER: "remind me to", Kind.FITTED: "fitted", Kind.TAKEN_OFF: "took off",
             Kind.REMOVED: "removed", Kind.PUT_BACK: "put back", Kind.TIMER: "timer"}  # fmt: skip
    assert {kind: language.lead_ins[kind][0] for kind in leads} == leads
    assert {word: phrases[0] for word, phrases in language.judgements.items()} == {
        word: word for word in ("good", "doubtful", "bad")
    }


@pytest.mark.parametrize("code", CODES)
def test_every_kind_has_its_phrases(code: str) -> None:
    language = load_language(code)
    assert all(language.commands[kind] for kind in COMMAND_KINDS)
    assert all(language.lead_ins[kind] for kind in LEAD_KINDS)


@pytest.mark.parametrize("code", CODES)
def test_the_vocabulary_has_every_word_once(code: str) -> None:
    language = load_language(code)
    words = language.vocabulary()
    assert len(set(words)) == len(words)
    assert set(language.number_words) <= set(words)
    assert not [word for word in words if " " in word]


COMMANDS, NUMBERS, UNITS = "commands.yaml", "numbers.yaml", "units.yaml"
MARK = "  mark: [mark, mark this]"
FAULTS = [
    (COMMANDS, "  undo: [strike that, undo that]\n", "", r".commands\.undo. is missing", "missing-key"),
    (COMMANDS, MARK, "  mark: [mark, next]", r".next. means two things", "two-meanings"),
    (COMMANDS, MARK, "  mark: [mark, mark]", r".mark. stands twice", "duplicate"),
    (COMMANDS, "  bad: [bad, looks bad]", "  bad: [bad, good]", r".good. means two things", "two-meanings"),
    (COMMANDS, "  note: [note]", "  note: [next]", r".next. means two things", "two-meanings"),
    (COMMANDS, MARK, "  mark: mark", r"has to be a list", "list"),
    (COMMANDS, MARK, "  mark: [null]", r"None is not text", "quotes"),
    (COMMANDS, MARK, '  mark: ["?"]', r".* empty phrase", "empty"),
    (COMMANDS, MARK, "  mark: [mark", r".*not readable YAML", "yaml"),
    (NUMBERS, '  "7": [seven]\n', "", r".*7.* is missing", "missing-key"),
    (NUMBERS, '  "7": [seven]', '  "7": [seven, six]', r".six. means two things", "two-meanings"),
    (NUMBERS, '  "7": [seven]', '  "7": [seven, seven]', r".seven. stands twice", "duplicate"),
    (NUMBERS, '  "7": [seven]', '  "7": [seven]\n  "7": [seven]', r".*not readable YAML", "yaml"),
    (UNITS, "  bar: {one: bar, many: bar, also: [bars]}\n", "", r".bar. is missing", "missing-key"),
    (UNITS, "also: [bars]", "also: [bars, volts]", r".volts. means two things", "two-meanings"),
    (UNITS, "  bar: {one: bar", "  Nm: {one: bar", r".Nm. is not a unit", "unit"),
    (UNITS, "  mil: {units: [thou, mm]", "  micron: {units: [thou, mm]", r".micron. means two", "two-meanings"),
    (UNITS, "  mil: {units: [thou, mm]", "  mil: {units: [thou, parsec]", r".parsec. is not", "unit"),
    ("words.yaml", "hesitations: [um,", "hesitations: [um, um,", r".um. stands twice", "duplicate"),
    ("words.yaml", "hesitations: [um,", "hesitations: [about,", r".about. means two things", "two-meanings"),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "match", "slug"), FAULTS, ids=lambda part: str(part)[:24])
def test_faults_are_refused(file: str, old: str, new: str, match: str, slug: str, tmp_path: Path) -> None:
    folder = tmp_path / "en"
    shutil.copytree(grammars_dir() / "en", folder)
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(LanguageError, match=match) as caught:
        load_language("en", folder)
    assert caught.value.slug == f"language-{slug}"
    assert re.search(rf"{file} line \d+$", caught.value.where)
    assert caught.value.mend
    assert caught.value.exit_code == 3


@pytest.mark.parametrize("file", ["numbers.yaml", "units.yaml", "commands.yaml", "words.yaml"])
def test_a_missing_file_is_named(file: str, tmp_path: Path) -> None:
    folder = tmp_path / "en"
    shutil.copytree(grammars_dir() / "en", folder)
    (folder / file).unlink()
    with pytest.raises(LanguageError, match=re.escape(file)):
        load_language("en", folder)


def test_an_unknown_language_names_those_that_are_there() -> None:
    with pytest.raises(LanguageError, match=r'no language "xx".*de, en'):
        load_language("xx")
