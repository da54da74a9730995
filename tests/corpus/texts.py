"""What is said: sentences in the grammar of a step, with their meaning, and sentences that are nobody's business.

The truth of a sentence is what the parser makes of its text (the parser has its own tests); a sentence that the parser
asks back about is left out of the readings. Outside sentences come from `outside.yaml`, from each hold's near misses,
and from what the assistant itself says.
"""

from __future__ import annotations

import itertools
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path

from ruamel.yaml import YAML

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Expected, Intent, Kind
from bench_voice.core.sheet import JobSheet, ReadingSpec
from bench_voice.hearing.contraries import contraries
from bench_voice.sheets.load import load_sheet
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker

HERE = Path(__file__).parent
LANGUAGE = load_language("en")
SHEETS = {
    "develop": ("develop-mixer",),
    "calibrate": ("calibrate-winch",),
    "report": ("report-sprayer", "report-lathe"),
}
# Whose turn a template of outside.yaml is: place in its list, modulo four.
_TURNS = {"develop": (0,), "calibrate": (1,), "report": (2, 3)}

_OPPOSITES = {
    "locked": "unlocked", "off": "on", "blocked": "loose", "still": "moving", "clear": "near", "slack": "tight",
    "hooked": "unhooked", "nobody": "somebody", "everyone": "no one", "clean": "dirty", "drained": "full",
    "away": "back", "back": "not back", "empty": "full", "out": "in", "removed": "left in", "tied": "hanging",
    "sight": "my pocket", "over": "under",
}  # fmt: skip
_SYNONYMS = {
    "locked": "shut", "blocked": "stopped", "clear": "far away", "slack": "hanging loose", "hooked": "tied",
    "nobody": "no one", "everyone": "everybody", "clean": "washed", "drained": "emptied", "taken": "carried",
    "empty": "free", "out": "pulled", "removed": "taken out", "tied": "rolled", "guard": "cover", "rope": "cable",
    "shaft": "axle", "tank": "barrel", "area": "place", "key": "spanner", "sleeves": "cuffs", "plug": "cable",
    "auger": "screw", "switch": "button",
}  # fmt: skip


@dataclass(frozen=True)
class Said:
    """`kind`: command, hold, reading, item, digits; or one of OUTSIDE."""

    kind: str
    sheet: str
    step: str
    text: str


OUTSIDE = ("near", "self", "camera", "phone", "radio", "question", "helper", "own")


@cache
def sheet_of(name: str) -> JobSheet:
    return load_sheet(HERE / "sheets" / f"{name}.yaml")


@cache
def expected_of(sheet: str, step: str) -> Expected:
    found = sheet_of(sheet)
    return Expected.at(found, found.steps[found.step_index(step)])


def truth(said: Said) -> Intent:
    return understand(said.text, expected_of(said.sheet, said.step), LANGUAGE)


def commands(part: str) -> Iterator[Said]:
    """Every command's first two phrases at every step, looks and items, as far as they mean something there."""
    yield from (said for said in _commands(part) if truth(said).kind is not Kind.UNKNOWN)


def _commands(part: str) -> Iterator[Said]:
    for name in SHEETS[part]:
        sheet = sheet_of(name)
        for step in sheet.steps:
            for kind, phrases in LANGUAGE.commands.items():
                if kind in (Kind.CORRECTION, Kind.MARK):
                    continue
                for phrase in list(phrases)[:2]:
                    yield Said("command", name, step.id, phrase)
            if step.hold is not None:
                yield Said("hold", name, step.id, step.hold.phrase)
            for look in step.looks:
                for word in ("good", "doubtful", "bad"):
                    yield Said("command", name, step.id, f"{sheet.looks[look].name} {word}")
            for item in sheet.items.values():
                yield Said("item", name, step.id, f"took off {item.name}")
                yield Said("item", name, step.id, f"put back {item.name}")


def readings(part: str, dice: random.Random) -> Iterator[Said]:
    """Without end: a reading of some step with a value near its limit, in one of the ways in which people say it."""
    steps = [(name, step) for name in SHEETS[part] for step in sheet_of(name).steps if step.readings]
    while True:
        name, step = dice.choice(steps)
        sheet = sheet_of(name)
        spec = sheet.readings[dice.choice(step.readings)]
        spoken = _spoken(_value(spec, dice), dice)
        if spec.unit == "count":
            form = dice.choice(("{name} {n}", "{n}"))
        else:
            form = dice.choice(("{name} {n} {unit}", "{n} {unit}", "{n} {unit}", "{name} {n}", "{n}"))
        one, many = LANGUAGE.unit_said.get(spec.unit, ("", ""))
        unit = (many if dice.random() < 0.85 else one) if "{unit}" in form else ""
        said = Said("reading", name, step.id, form.format(name=spec.name, n=spoken, unit=unit))
        meaning = truth(said)
        if meaning.kind is Kind.READING and meaning.name == spec.id:
            yield said


def _value(spec: ReadingSpec, dice: random.Random) -> Decimal:
    """Around the limits, with as many decimals as the limit has, or one more."""
    bounds = [b for b in (spec.limit.low, spec.limit.high) if b is not None]
    base = dice.choice(bounds)
    places = max(0, -int(base.as_tuple().exponent)) + dice.choice((0, 0, 1))
    value = Decimal(str(float(base) * dice.uniform(0.4, 2.2)))
    return round(value, places) if places else Decimal(int(value))


def _spoken(value: Decimal, dice: random.Random) -> str:
    words = Speaker(LANGUAGE).number(value)
    whole, point, rest = words.partition(" point ")
    if point and whole == "zero" and dice.random() < 0.2:
        whole = "nought"
    if not point and 100 <= abs(value) < 10_000 and dice.random() < 0.35:
        words = " ".join(LANGUAGE.numbers.said[int(d)] for d in str(abs(int(value))))
        return f"minus {words}" if value < 0 else words
    return f"{whole}{point}{rest}"


def near_misses(part: str) -> list[Said]:
    """At each hold: its phrase denied, asked, cut short, turned round, said of something else, wrapped in talk."""
    found: dict[tuple[str, str, str], Said] = {}
    for name in SHEETS[part]:
        sheet = sheet_of(name)
        holds = [step for step in sheet.steps if step.hold is not None]
        for step in holds:
            assert step.hold is not None
            phrases = _near(step.hold.phrase)
            phrases += [other.hold.phrase for other in holds if other.hold and other is not step]
            for text in phrases:
                said = Said("near", name, step.id, text)
                if truth(said).kind is not Kind.CONFIRM or flat_of(truth(said)).name != step.hold.id:
                    found[name, step.id, text] = said
    return list(found.values())


def turned_round(part: str) -> tuple[list[Said], list[Said]]:
    """Of each hold what turns its phrase round, one word exchanged; and the phrases."""
    turned: list[Said] = []
    phrases = [said for said in _commands(part) if said.kind == "hold"]
    for said in phrases:
        turned += [Said("near", said.sheet, said.step, text) for text in contraries(said.text, LANGUAGE)]
    return turned, phrases


def _near(phrase: str) -> list[str]:
    words = phrase.split()
    rest = words[1:]
    body = " ".join(rest)
    verbs = [i for i, w in enumerate(words) if w in ("is", "are", "has", "stands")]
    found = [body, "confirm", " ".join(words[:-1]), " ".join(words[:-2]), f"confirm {' '.join(rest[1:])}"]
    for i in verbs:
        found.append(" ".join((*words[: i + 1], "not", *words[i + 1 :])))
        found.append(" ".join((words[i], *words[1:i], *words[i + 1 :])))
        found.append(" ".join((*words[:i], "was", *words[i + 1 :])))
        found.append(" ".join((*words[:i], "will be", *words[i + 1 :])))
        found.append(" ".join((*words[: i + 1], "nearly", *words[i + 1 :])))
        found.append(" ".join((*words[:i], "should be", *words[i + 1 :])))
    for table in (_OPPOSITES, _SYNONYMS):
        for i, word in enumerate(words):
            if word in table:
                found.append(" ".join((*words[:i], table[word], *words[i + 1 :])))
    for start in ("do not", "I can't", "can you", "did I", "we must", "later I", "never", "you have to", "should I"):
        found.append(f"{start} {phrase}")
    found += [f"when {body}", f"if {body} then", f"is it true that {body}", f"not sure that {body}",
              f"make sure {body}", f"the book says {body}", f"conform {body}", f"firm {body}",
              f"{body} or not", f"no {body}", f"affirm {body}", f"next {body}"]  # fmt: skip
    return found


@cache
def outside(part: str) -> tuple[tuple[str, str], ...]:
    """(kind, text) of every sentence of the part's templates, and of what the assistant says at the part's sheets."""
    raw = YAML(typ="safe").load((HERE / "outside.yaml").read_text("utf-8"))
    found: list[tuple[str, str]] = []
    for kind, templates in raw.items():
        for place, template in enumerate(templates):
            if place % 4 in _TURNS[part]:
                found += [(kind, text) for text in _expanded(template)]
    found += [("own", text) for text in _own(part)]
    return tuple(dict.fromkeys(found))


def _expanded(template: str) -> list[str]:
    pieces = re.split(r"\{([^}]*)\}", template)
    choices = [piece.split("|") if at % 2 else [piece] for at, piece in enumerate(pieces)]
    return [" ".join("".join(chosen).split()) for chosen in itertools.product(*choices)]


def _own(part: str) -> list[str]:
    """The assistant's sentences: steps, cautions, what it asks and answers, with the part's names filled in."""
    found: list[str] = []
    for name in SHEETS[part]:
        sheet = sheet_of(name)
        for number, step in enumerate(sheet.steps, 1):
            found.append(f"step {number}. {step.say}")
            if step.hold is not None:
                found.append(f"When it is so, say: {step.hold.phrase}.")
                body = step.hold.phrase.removeprefix("confirm ")
                found.append(f"You confirm that {body}: affirm or negative?")
            for reading in step.readings:
                spec = sheet.readings[reading]
                found += [f"Tell me the {spec.name}.", f"{spec.name}, four point five. Good, one point five left.",
                          f"{spec.name}, two point nine: affirm or negative?",
                          f"Not yet. I still need the {spec.name}."]  # fmt: skip
            for item in (*step.opens, *step.closes):
                found.append(f"Say: took off {sheet.items[item].name}.")
    return found
