"""A language as data: loads `grammars/<code>/*.yaml`, proofreads it, and gives it to the parser ready to use.

Refused at load, with file, line and mending: missing keys, a phrase twice, two meanings for one phrase.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from bench_voice.core.intents import ITEM_KINDS, SETTINGS, Kind
from bench_voice.core.sheet import Finding
from bench_voice.errors import BenchError
from bench_voice.words.text import words
from bench_voice.words.units import DIMENSIONS

Phrase = tuple[str, ...]

COMMAND_KINDS = (
    Kind.AFFIRM, Kind.NEGATIVE, Kind.NEXT, Kind.BACK, Kind.REPEAT, Kind.WHERE, Kind.LEFT, Kind.CORRECTION, Kind.UNDO,
    Kind.REDO, Kind.MARK, Kind.STAND_BY, Kind.CARRY_ON, Kind.HELP, Kind.STOP, Kind.REPLACE,
    *SETTINGS,
)  # fmt: skip
LEAD_KINDS = (Kind.NOTE, Kind.REMINDER, *ITEM_KINDS, Kind.TIMER, Kind.CORRECTION, Kind.JUDGED, Kind.DONE)
TOPICS = ("limit", "step", "reading", "wear")


class LanguageError(BenchError):
    """A language file that cannot be used; ends the program like a bad sheet."""

    exit_code = 3


_GREATEST_SCALE = 1000


@dataclass(frozen=True)
class NumberWords:
    """How this language spells numbers. `value` maps single words; fraction names may be several words long."""

    digit: Mapping[str, int]
    teen: Mapping[str, int]
    ten: Mapping[str, int]
    hundred: frozenset[str]
    scale: Mapping[str, int]
    point: frozenset[str]
    and_: frozenset[str]
    minus: frozenset[str]
    articles: frozenset[str]
    fraction: Mapping[Phrase, int]
    fraction_singular: frozenset[Phrase]
    of: frozenset[Phrase]
    is_compound: bool
    is_inverted: bool
    has_implicit_one: bool
    joiner: str
    decimal_mark: str
    says_and: bool
    said: Mapping[int, str]  # the word we say for 0..19, the tens, 100 and the scales
    said_point: str
    said_and: str
    said_minus: str
    known: frozenset[str]  # every word that can stand in a number
    pieces: Sequence[str] = ()  # for compound languages: morphemes, longest first

    @property
    def plain(self) -> tuple[str, ...]:
        """The words that decimal numbers of a workshop are said with: no fractions, no millions (which sound like
        millimetres), nothing that joins them."""
        said = {word for value, word in self.said.items() if value <= _GREATEST_SCALE}
        return tuple(sorted({*said, *self.digit, *self.point}))

    def meaning(self, word: str) -> int | str:
        """What a number word stands for: "oh" and "nought" for the same. Any other word for itself."""
        for table in (self.digit, self.teen, self.ten, self.scale):
            if word in table:
                return table[word]
        return 100 if word in self.hundred else self.said_point if word in self.point else word


@dataclass(frozen=True)
class Language:
    """Everything that one language has. Phrases are tuples of words for the parser, strings for the vocabulary."""

    code: str
    folder: Path
    commands: Mapping[Kind, tuple[str, ...]]
    lead_ins: Mapping[Kind, tuple[str, ...]]
    judgements: Mapping[Finding, tuple[str, ...]]
    numbers: NumberWords
    number_words: tuple[str, ...]
    unit_words: Mapping[str, tuple[str, ...]]
    unit_said: Mapping[str, tuple[str, str]]  # what we say: for exactly one, for anything else
    units: Mapping[Phrase, str]
    ambiguous_units: Mapping[Phrase, tuple[tuple[str, ...], bool]]
    thousandths: frozenset[str]
    tenths: frozenset[str]
    tenths_of_thou: frozenset[Phrase]
    dimension_words: Mapping[str, str]
    command_of: Mapping[Phrase, Kind]
    lead_in_of: Mapping[Phrase, Kind]
    judgement_of: Mapping[Phrase, Finding]
    timer_for: frozenset[Phrase]
    query_of: Mapping[Phrase, str]
    query_leads: Mapping[str, tuple[Phrase, ...]]
    wear_ends: frozenset[str]
    wear_at_joins: tuple[Phrase, ...]
    conversion_joins: frozenset[str]
    question_starts: frozenset[str]
    hesitations: frozenset[str]
    fillers: frozenset[Phrase]
    hedges: frozenset[Phrase]
    vague: frozenset[Phrase]
    side_words: frozenset[str]
    separators: frozenset[str]
    negations: frozenset[str]  # every word that denies
    sentence_negations: frozenset[str]  # of them, those that deny what was said, not a thing or a degree only
    conditions: frozenset[str]  # words that leave it open
    hold_opening: str  # the word that a hold's phrase begins with
    note_joins: frozenset[str]
    contraries: Mapping[str, tuple[str, ...]]  # of words of a hold's phrase
    typed_only: frozenset[str]
    list_and: str
    list_or: str
    list_comma: str
    wording: Mapping[str, str] = field(default_factory=dict)
    longest_unit: int = 1

    def statement(self, phrase: str) -> str:
        """A hold's phrase without the word that it begins with: what is confirmed."""
        return phrase.removeprefix(f"{self.hold_opening} ")

    @property
    def denials(self) -> frozenset[str]:
        """Words that a text can have more than another and then not mean the same: "plug is not out", "if"."""
        return self.negations | self.conditions

    def vocabulary(self) -> tuple[str, ...]:
        """Every word that any fixed phrase, number or unit contains, sorted: what a recogniser has to know."""
        found = set(self.number_words)
        for phrases in (*self.commands.values(), *self.lead_ins.values(), *self.judgements.values()):
            found.update(word for phrase in phrases for word in words(phrase))
        found.update(word for phrase in (*self.units, *self.ambiguous_units) for word in phrase)
        return tuple(sorted(found))


def grammars_dir() -> Path:
    """The folder of the languages: `grammars/` of a checkout, else the package data of a wheel."""
    checkout = Path(__file__).resolve().parents[2] / "grammars"
    installed = Path(__file__).resolve().parents[1] / "_grammars"
    for place in (checkout, installed):
        if (place / "en").is_dir():
            return place
    raise LanguageError("The language files are missing.", mend="Install bench-voice again.", slug="language-missing")


def language_codes() -> tuple[str, ...]:
    """The languages that are shipped; none where their files are missing."""
    try:
        return _codes(grammars_dir())
    except LanguageError:
        return ()


def _codes(folder: Path) -> tuple[str, ...]:
    return tuple(sorted(path.parent.name for path in folder.glob("*/numbers.yaml")))


@lru_cache(maxsize=8)
def load_language(code: str = "en", folder: Path | None = None) -> Language:
    """The language `code` from `folder` (default: the shipped one), proofread. Raises LanguageError. Cached."""
    place = folder if folder is not None else grammars_dir() / code
    if not place.is_dir():
        there = ", ".join(_codes(place.parent))
        raise LanguageError(
            f'There is no language "{code}".',
            mend=f"Languages here: {there or 'none'}.",
            slug="language-unknown",
            where=str(place),
        )
    return _Reader(code, place).language()


class _File:
    """One YAML file with the lines of its keys, so that each fault can say where it stands."""

    def __init__(self, path: Path) -> None:
        from ruamel.yaml import YAML
        from ruamel.yaml.error import YAMLError

        self.path = path
        try:
            self.data: Any = YAML(typ="rt").load(path.read_text(encoding="utf-8"))
        except FileNotFoundError:
            raise LanguageError(
                "The file is missing.", mend="Put it there; the English one shows the keys.",
                slug="language-missing", where=str(path),
            ) from None  # fmt: skip
        except (YAMLError, UnicodeDecodeError, OSError) as error:
            mark = getattr(error, "problem_mark", None)
            line = f" line {mark.line + 1}" if mark is not None else ""
            raise LanguageError(
                "This is not readable YAML.", mend="Mend the indentation, quotes or a key that stands twice.",
                slug="language-yaml", where=f"{path}{line}",
            ) from None  # fmt: skip

    def fault(self, node: Any, key: Any, what: str, mend: str, slug: str) -> LanguageError:
        line = 0
        try:
            line = (node.lc.item(key) if isinstance(key, int) else node.lc.key(key))[0] + 1
        except (AttributeError, KeyError, TypeError, IndexError):
            line = getattr(getattr(node, "lc", None), "line", 0) + 1
        return LanguageError(what, mend=mend, slug=slug, where=f"{self.path} line {line}")

    def get(self, *keys: str, node: Any = None) -> Any:
        at = self.data if node is None else node
        for key in keys:
            if not isinstance(at, Mapping) or key not in at:
                raise self.fault(
                    at, key, f'"{".".join(keys)}" is missing.', f'Add the key "{key}".', "language-missing-key"
                )
            at = at[key]
        return at

    def phrases(self, *keys: str, node: Any = None) -> tuple[str, ...]:
        """A list of phrases, each once."""
        at = self.get(*keys, node=node)
        if isinstance(at, str | bool | int) or not isinstance(at, Sequence):
            raise self.fault(
                self.data, keys[0], f'"{".".join(keys)}" has to be a list.', "Write [ … ].", "language-list"
            )
        found: list[str] = []
        for index, raw in enumerate(at):
            if not isinstance(raw, str):  # null, true, 12: YAML took a word for something else
                raise self.fault(at, index, f"{raw} is not text.", "Put it into quotes.", "language-quotes")
            phrase = " ".join(words(raw))
            if not phrase:
                raise self.fault(
                    at, index, f'"{".".join(keys)}" has an empty phrase.', "Take it out.", "language-empty"
                )
            if phrase in found:
                raise self.fault(
                    at, index, f'"{phrase}" stands twice in "{".".join(keys)}".', "Take one out.", "language-duplicate"
                )
            found.append(phrase)
        return tuple(found)


class _Reader:
    def __init__(self, code: str, place: Path) -> None:
        self.code, self.place = code, place
        self.unit_said: dict[str, tuple[str, str]] = {}
        self.numbers_file = _File(place / "numbers.yaml")
        self.units_file = _File(place / "units.yaml")
        self.commands_file = _File(place / "commands.yaml")
        self.words_file = _File(place / "words.yaml")
        wording = place / "wording.yaml"
        self.wording_file = _File(wording) if wording.exists() else None

    def claim(self, file: _File, keys: tuple[str, ...], taken: dict[Phrase, Any], meaning: Any, node: Any = None) -> (
        tuple[str, ...]
    ):  # fmt: skip
        """Phrases of one meaning, entered into `taken`; refuses one that already means something else."""
        found = file.phrases(*keys, node=node)
        at = file.get(*keys, node=node)
        for index, phrase in enumerate(found):
            old = taken.setdefault(tuple(phrase.split()), meaning)
            if old != meaning:
                raise file.fault(
                    at, index, f'"{phrase}" means two things: {old} and {meaning}.',
                    "Leave it in one place only.", "language-two-meanings",
                )  # fmt: skip
        return found

    def numbers(self) -> tuple[NumberWords, tuple[str, ...]]:
        file, said = self.numbers_file, dict[int, str]()
        groups: dict[str, dict[str, int]] = {}
        wanted = {
            "digits": range(10), "teens": range(10, 20), "tens": range(20, 100, 10), "scales": (1000, 10**6),
        }  # fmt: skip
        seen: dict[Phrase, Any] = {}
        for group, needed in wanted.items():
            node, groups[group] = file.get(group), {}
            for value in needed:
                file.get(group, str(value))
            for key in node:
                for position, word in enumerate(self.claim(file, (group, key), seen, f"{group} {key}")):
                    groups[group][word] = int(key)
                    if position == 0:
                        said[int(key)] = word
        single = {}
        for key in ("hundred", "point", "and", "minus"):
            single[key] = self.claim(file, (key,), seen, key)
        said[100] = single["hundred"][0]
        fractions: dict[Phrase, Any] = {}
        for key in file.get("fractions"):
            self.claim(file, ("fractions", key), fractions, int(key))
        of = frozenset(tuple(phrase.split()) for phrase in file.phrases("of"))
        articles = frozenset(file.phrases("articles"))
        everything = {word for phrase in (*seen, *fractions, *of) for word in phrase} | articles
        flags = {key: file.get(key) for key in (
            "compound_words", "inverted_tens", "implicit_one", "joiner", "decimal_mark", "say_and"
        )}  # fmt: skip
        pieces = sorted({p[0] for p in seen if len(p) == 1} | ({str(flags["joiner"])} - {""}), key=len, reverse=True)
        return NumberWords(
            digit=groups["digits"], teen=groups["teens"], ten=groups["tens"], scale=groups["scales"],
            hundred=frozenset(single["hundred"]), point=frozenset(single["point"]), and_=frozenset(single["and"]),
            minus=frozenset(single["minus"]), articles=articles, fraction=fractions, of=of,
            fraction_singular=frozenset(words(phrase) for phrase in file.phrases("fraction_singular")),
            is_compound=bool(flags["compound_words"]), is_inverted=bool(flags["inverted_tens"]),
            has_implicit_one=bool(flags["implicit_one"]), joiner=str(flags["joiner"]),
            decimal_mark=str(flags["decimal_mark"]), says_and=bool(flags["say_and"]), said=said,
            said_point=single["point"][0], said_and=single["and"][0], said_minus=single["minus"][0],
            known=frozenset(everything),
            pieces=tuple(pieces) if flags["compound_words"] else (),
        ), tuple(sorted(everything))  # fmt: skip

    def units(self) -> tuple[dict[str, tuple[str, ...]], dict[Phrase, str]]:
        file = self.units_file
        taken: dict[Phrase, Any] = {}
        spoken: dict[str, tuple[str, ...]] = {}
        node = file.get("units")
        for unit in node:
            if unit not in DIMENSIONS:
                raise file.fault(node, unit, f'"{unit}" is not a unit of the list.', "Take it out.", "language-unit")
        for unit in DIMENSIONS:
            entry = file.get(unit, node=node)
            one, many = str(file.get("one", node=entry)), str(file.get("many", node=entry))
            also = self.claim(file, ("also",), taken, unit, node=entry)
            for phrase in (one, many):
                old = taken.setdefault(words(phrase), unit)
                if old != unit:
                    raise file.fault(
                        node, unit, f'"{phrase}" means two things: {old} and {unit}.',
                        "Leave it in one place only.", "language-two-meanings",
                    )  # fmt: skip
                if phrase in also:
                    raise file.fault(
                        node, unit, f'"{phrase}" stands twice in "{unit}".', "Take one out.", "language-duplicate"
                    )
            self.unit_said[unit] = (one, many)
            spoken[unit] = tuple(dict.fromkeys((one, many, *also)))
        return spoken, dict(taken)

    def ambiguous(self, units: Mapping[Phrase, str]) -> dict[Phrase, tuple[tuple[str, ...], bool]]:
        file, found = self.units_file, {}
        node = file.get("ambiguous")
        for phrase in node:
            key = words(str(phrase))
            if key in units:
                raise file.fault(
                    node, phrase, f'"{phrase}" means two things: {units[key]} and one of several units.',
                    "Leave it in one place only.", "language-two-meanings",
                )  # fmt: skip
            options = tuple(str(unit) for unit in file.get("units", node=node[phrase]))
            for unit in options:
                if unit not in DIMENSIONS:
                    raise file.fault(
                        node, phrase, f'"{unit}" is not a unit of the list.', "Take it out.", "language-unit"
                    )
            found[key] = (options, bool(node[phrase].get("always", False)))
        return found

    def language(self) -> Language:
        numbers, number_words = self.numbers()
        unit_words, units = self.units()
        ambiguous = self.ambiguous(units)
        file = self.commands_file
        whole: dict[Phrase, Any] = {}
        commands = {k: self.claim(file, ("commands", k.value), whole, k) for k in COMMAND_KINDS}
        judgements: dict[Phrase, Any] = {}
        for word in Finding:
            self.claim(file, ("judgements", word), judgements, word)
            self.claim(file, ("judgements", word), whole, f"judgement {word}")
        queries: dict[Phrase, Any] = {}
        for topic in TOPICS:
            self.claim(file, ("queries", topic), queries, topic)
            self.claim(file, ("queries", topic), whole, f"query {topic}")
        leads: dict[Phrase, Any] = {}
        lead_ins = {k: self.claim(file, ("lead_ins", k.value), leads, k) for k in LEAD_KINDS}
        for phrase, kind in leads.items():
            if whole.get(phrase, kind) != kind:
                node = file.get("lead_ins", kind.value)
                raise file.fault(
                    node, 0, f'"{" ".join(phrase)}" means two things: {whole[phrase]} and {kind}.',
                    "Leave it in one place only.", "language-two-meanings",
                )  # fmt: skip
        taken_around: dict[Phrase, Any] = {}
        for key in ("hesitations", "fillers", "hedges", "vague"):
            self.claim(self.words_file, (key,), taken_around, key)

        def around(key: str) -> frozenset[Phrase]:
            return frozenset(p for p, k in taken_around.items() if k == key)

        of_sentences = self.words_file.phrases("negations", "of_sentences")
        inch = {key: self.units_file.phrases("inch_speech", key) for key in ("thousandths", "tenths", "tenths_of_thou")}
        wording = {str(k): str(v) for k, v in (self.wording_file.data or {}).items()} if self.wording_file else {}
        return Language(
            code=self.code, folder=self.place, commands=commands, lead_ins=lead_ins, numbers=numbers,
            judgements={w: tuple(" ".join(p) for p, v in judgements.items() if v == w) for w in Finding},
            number_words=number_words, unit_words=unit_words, unit_said=self.unit_said,
            units=units, ambiguous_units=ambiguous,
            thousandths=frozenset(inch["thousandths"]), tenths=frozenset(inch["tenths"]),
            tenths_of_thou=frozenset(words(p) for p in inch["tenths_of_thou"]),
            dimension_words={d: str(self.units_file.get("dimensions", d)) for d in dict.fromkeys(DIMENSIONS.values())},
            command_of={p: k for p, k in whole.items() if isinstance(k, Kind)},
            lead_in_of=leads, judgement_of=judgements,
            timer_for=frozenset(words(p) for p in file.phrases("timer_for")), query_of=queries,
            query_leads={t: tuple(sorted((words(p) for p in file.phrases("query_leads", t)), key=len, reverse=True))
                         for t in ("limit", "reading", "wear", "wear-at", "conversion")},
            wear_ends=frozenset(file.phrases("wear_ends")),
            wear_at_joins=tuple(words(p) for p in file.phrases("wear_at_joins")),
            conversion_joins=frozenset(file.phrases("conversion_joins")),
            question_starts=frozenset(file.phrases("question_starts")),
            hesitations=frozenset(w for p in around("hesitations") for w in p), fillers=around("fillers"),
            hedges=around("hedges"), vague=around("vague"), side_words=frozenset(self.words_file.phrases("side_words")),
            separators=frozenset(self.words_file.phrases("separators")),
            negations=frozenset((*of_sentences, *self.words_file.phrases("negations", "of_things"))),
            sentence_negations=frozenset(of_sentences),
            conditions=frozenset(self.words_file.phrases("conditions")),
            hold_opening=str(self.words_file.get("hold_opening")),
            note_joins=frozenset(self.words_file.phrases("note_joins")),
            contraries={w: self.words_file.phrases("contraries", w) for w in self.words_file.get("contraries")},
            typed_only=frozenset(self.units_file.phrases("typed_only")),
            list_and=str(self.words_file.get("list_and")), list_or=str(self.words_file.get("list_or")),
            list_comma=str(self.words_file.get("list_comma")),
            wording=wording, longest_unit=max(map(len, (*units, *ambiguous))),
        )  # fmt: skip
