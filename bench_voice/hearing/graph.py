"""All that a step can hear, as one graph of words: compiled once a step, searched for every utterance. Pure.

A path from the first node to an accepting one is a sentence. An arc is one way of saying one word: its phones, and what
it adds to the sentence's canonical text (`out`), which is the same for words that mean the same: "nought" and "zero",
a name and its aliases, a unit that goes without saying. Numbers are never narrowed to what would pass a limit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray

from bench_voice.core.intents import ITEM_KINDS, Expected, Kind
from bench_voice.phonetics import Labels, Said, labels_of, merged
from bench_voice.phonetics import Ways as PhoneWays
from bench_voice.words.phrases import Language
from bench_voice.words.units import DIMENSIONS

Ways = Callable[[str], Sequence[Labels]]  # of saying a word, each its phones' numbers; none where that isn't known

# What is seldom said, as natural logarithms: a further word, a unit that the step does not use, two groups of a number
# side by side, a question or a hedge before a number, what turns a hold round by its first word alone.
WORD, OTHER_UNIT, GROUP, ASIDE, BEGINNING = -0.5, -4.0, -3.0, -3.0, -3.0

BLANK = 0
ANYTHING = -1  # stands for any phone: what follows the opening of a note
START, END = 0, 1
_LARGEST_SCALE = 1000
_MOST_WAYS, _MOST_GRAPHS = 3, 4
_OTHERS = {"en": ("oh", "nought", "niner")}  # digits as they are said besides; other spellings sound the same


@dataclass(frozen=True)
class Arc:
    source: int
    target: int
    labels: Labels
    out: str
    cost: float = 0.0


@dataclass
class Graph:
    """`arcs` and the nodes from which each can begin (`follows`: by node, the arcs behind it, spontaneous moves
    included); `accepting`: nodes at which a sentence may end. Arrays are by state: each phone of an arc and the blank
    behind it. `unsaid`: words that nobody knows how to say."""

    arcs: tuple[Arc, ...]
    follows: Mapping[int, NDArray[np.int64]]
    accepting: frozenset[int]
    unsaid: frozenset[str]
    first: NDArray[np.int64] = field(init=False)  # by arc, its first state
    cost: NDArray[np.float32] = field(init=False)  # by arc
    label: NDArray[np.int64] = field(init=False)  # by state
    cost_next: NDArray[np.float32] = field(init=False)  # of going on to the next state, and to the one after it
    cost_skip: NDArray[np.float32] = field(init=False)
    member: NDArray[np.int64] = field(init=False)  # arcs, slot by slot
    slot_start: NDArray[np.int64] = field(init=False)
    exit_state: NDArray[np.int64] = field(init=False)
    exit_slot: NDArray[np.int64] = field(init=False)
    final_state: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        lengths = np.array([2 * len(arc.labels) for arc in self.arcs], np.int64)
        starts = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
        self.first = starts[:-1]
        self.cost = np.array([arc.cost for arc in self.arcs], np.float32)
        size = int(starts[-1])
        self.label = np.zeros(size, np.int64)
        self.cost_next = np.zeros(size, np.float32)
        self.cost_skip = np.full(size, NEVER, np.float32)
        slots: dict[tuple[int, int], int] = {}
        members: list[NDArray[np.int64]] = []
        exits: list[tuple[int, int]] = []
        finals: list[int] = []
        begins = np.array([arc.labels[0] for arc in self.arcs], np.int64)

        def slot(node: int, but: int) -> int | None:
            """The arcs behind a node, without those that begin with the phone `but`."""
            behind = self.follows.get(node)
            if behind is None or not len(behind):
                return None
            but = but if (begins[behind] == but).any() else BLANK
            if (node, but) not in slots:
                chosen = behind[begins[behind] != but]
                if not len(chosen):
                    return None
                slots[node, but] = len(members)
                members.append(chosen)
            return slots[node, but]

        for at, arc in enumerate(self.arcs):
            a, b = int(starts[at]), int(starts[at + 1])
            self.label[a:b:2] = arc.labels
            self.cost_next[b - 1] = NEVER
            for place in range(len(arc.labels) - 1):
                if arc.labels[place] != arc.labels[place + 1]:
                    self.cost_skip[a + 2 * place] = 0.0
            for state, but in ((b - 2, arc.labels[-1]), (b - 1, BLANK)):
                if (found := slot(arc.target, but)) is not None:
                    exits.append((state, found))
                if arc.target in self.accepting:
                    finals.append(state)
        self.member = np.concatenate(members) if members else np.zeros(0, np.int64)
        self.slot_start = np.cumsum([0, *(len(one) for one in members[:-1])]).astype(np.int64)
        self.exit_state = np.array([state for state, _ in exits], np.int64)
        self.exit_slot = np.array([found for _, found in exits], np.int64)
        self.final_state = np.array(finals, np.int64)


NEVER = np.float32(-1e9)


class _Builder:
    def __init__(self, ways: Ways) -> None:
        self._ways = ways
        self._arcs: list[Arc] = []
        self._moves: dict[int, set[int]] = {}
        self._nodes = 2
        self._tries: dict[tuple[int, str], int] = {}
        self.accepting = {END}
        self.unsaid: set[str] = set()

    def node(self) -> int:
        self._nodes += 1
        return self._nodes - 1

    def move(self, source: int, target: int) -> None:
        """From one node to another without a word."""
        self._moves.setdefault(source, set()).add(target)

    def word(self, source: int, target: int, word: str, out: str = "", cost: float = 0.0) -> bool:
        ways = self._ways(word)
        cost += WORD
        self._arcs += [Arc(source, target, labels, out, cost) for labels in dict.fromkeys(ways) if labels]
        if not ways:
            self.unsaid.add(word)
        return bool(ways)

    def anything(self, source: int, target: int) -> None:
        self._arcs.append(Arc(source, target, (ANYTHING,), ""))

    def phrase(self, source: int, target: int, text: str, out: str | None = None, cost: float = 0.0) -> bool:
        """Its words one after the other; those that begin alike share their beginnings. `out`: else the text."""
        *head, last = text.split()
        if not all(self._ways(word) for word in (*head, last)):
            self.unsaid.update(word for word in (*head, last) if not self._ways(word))
            return False
        at = source
        for word in head:
            if (at, word) not in self._tries:
                self._tries[at, word] = self.node()
                self.word(at, self._tries[at, word], word)
            at = self._tries[at, word]
        return self.word(at, target, last, text if out is None else out, cost)

    def words(self, source: int, target: int, outs: Mapping[str, str], cost: float = 0.0) -> None:
        for word, out in outs.items():
            self.word(source, target, word, out, cost)

    def graph(self) -> Graph:
        arcs = tuple(dict.fromkeys(self._arcs))
        out_of: dict[int, list[int]] = {}
        for at, arc in enumerate(arcs):
            out_of.setdefault(arc.source, []).append(at)
        follows: dict[int, NDArray[np.int64]] = {}
        accepting = set(self.accepting)
        for node in range(self._nodes):
            reached, new = {node}, [node]
            while new:
                more = self._moves.get(new.pop(), set()) - reached
                reached |= more
                new += more
            if reached & self.accepting:
                accepting.add(node)
            follows[node] = np.array(sorted(at for one in reached for at in out_of.get(one, ())), np.int64)
        return Graph(arcs, follows, frozenset(accepting), frozenset(self.unsaid))


class Graphs:
    """The graphs of the steps that are worked at, each compiled once. `ways`: of saying a word; `own`: how the person
    says some; `call`: the call word that is listened for now, and whether it must be said."""

    def __init__(
        self,
        language: Language,
        ways: PhoneWays,
        own: Said | None = None,
        call: Callable[[], tuple[str, bool]] = lambda: ("", True),
    ) -> None:
        self._language, self._ways, self._own, self._call = language, ways, own or {}, call
        self._made: list[tuple[Expected, tuple[str, bool], Graph]] = []

    def __call__(self, expected: Expected) -> Graph:
        call = self._call()
        for known, called, graph in self._made:
            if called == call and (known is expected or known == expected):
                return graph
        said = merged(expected.sheet.pronunciations, self._own)

        @cache
        def labels(word: str) -> tuple[Labels, ...]:
            return labels_of(word, self._ways, said)[:_MOST_WAYS]

        graph = compiled(expected, self._language, labels, *call)
        self._made = [(expected, call, graph), *self._made][:_MOST_GRAPHS]
        return graph


def compiled(expected: Expected, language: Language, ways: Ways, call: str = "", is_call_needed: bool = True) -> Graph:
    """The graph of what may be said now. `call`: the call word in front of everything, empty where none is used."""
    build = _Builder(ways)
    start = START
    if call:
        start = build.node()
        build.phrase(START, start, call, "")
        if not is_call_needed:
            build.move(START, start)
    _commands(build, start, expected, language)
    _readings(build, start, expected, language)
    _named(build, start, expected, language)
    _hold(build, start, expected, language)
    _openings(build, start, expected, language)
    return build.graph()


def _plain(phrase: str) -> str:
    return " ".join("".join(c if c.isalpha() or c == "'" else " " for c in phrase.lower()).split())


def _commands(build: _Builder, start: int, expected: Expected, language: Language) -> None:
    for kind, phrases in language.commands.items():
        if kind is Kind.REPLACE and not expected.has_failed:
            continue
        for phrase in phrases:
            build.phrase(start, END, _plain(phrase), _plain(phrases[0]))
    for question in language.query_of:
        build.phrase(start, END, " ".join(question), None, ASIDE)


def _readings(build: _Builder, start: int, expected: Expected, language: Language) -> None:
    """[filler] [name] number [unit], also behind "correction"."""
    sheet = expected.sheet
    here = dict.fromkeys((*expected.waits, *((expected.corrects,) if expected.corrects else ())))
    waits = [sheet.readings[one] for one in here if one in sheet.readings]
    known = {*here, *expected.correctable, *expected.step.readings}
    others = [sheet.readings[one] for one in known if one in sheet.readings]
    begin, number, unit = build.node(), build.node(), build.node()
    ends = _number(build, number, language)
    wanted = {one.read_in for one in waits} | {one.unit for one in waits}
    silent = next(iter({one.read_in for one in waits}), "") if len({one.read_in for one in waits}) == 1 else ""
    if waits:
        build.move(start, begin)
        for aside in (*language.fillers, *language.hedges):
            if len(aside) > 1:
                hedge = "" if aside in language.fillers else "about"
                build.phrase(start, begin, " ".join(aside), hedge, ASIDE)
        build.move(begin, number)
        for spec in waits:
            for name in dict.fromkeys((spec.name, *spec.aliases)):
                build.phrase(begin, number, _plain(name), "" if len(waits) == 1 else _plain(spec.name))
    corrected = build.node()
    for phrase in language.lead_ins.get(Kind.CORRECTION, ()):
        build.phrase(start, corrected, phrase, phrase)
    build.move(corrected, number)
    for spec in others:
        for name in dict.fromkeys((spec.name, *spec.aliases)):
            build.phrase(corrected, number, _plain(name), _plain(spec.name))
    wanted |= {one.unit for one in others if one.id == expected.last_reading}
    for end in ends:
        build.move(end, unit)
    build.accepting.add(unit)
    behind = build.node()
    build.accepting.add(behind)
    usual = {one for unit_ in wanted for one in language.unit_words.get(unit_, ())}
    for phrase, out in _units(wanted, silent, language).items():
        build.phrase(unit, behind, phrase, out, 0.0 if phrase in usual else OTHER_UNIT)
    if expected.points_left > 1:  # several points in one breath
        for end in (unit, behind):
            build.move(end, number)
            for word in sorted(language.separators):
                build.word(end, number, word, word)


def _units(wanted: Iterable[str], silent: str, language: Language) -> dict[str, str]:
    """Ways of saying units of the wanted dimensions, and what stands for each; `silent` goes without saying."""
    wanted = set(wanted)
    dimensions = {DIMENSIONS.get(unit) for unit in wanted}
    found: dict[str, str] = {}
    for unit, phrases in language.unit_words.items():
        if DIMENSIONS.get(unit) not in dimensions:
            continue
        spelled = [one for one in phrases[2:] if unit in wanted and all(len(word) == 1 for word in one.split())]
        whole = [one for one in phrases[2:] if unit in wanted and all(len(word) > 2 for word in one.split())]
        for phrase in (*phrases[:2], *whole, *spelled):
            if phrase.replace(" ", "").isalpha() and len(phrase) > 1:
                found[phrase] = "" if unit == silent else phrases[0]
    for words, (units, _) in language.ambiguous_units.items():
        if {DIMENSIONS.get(unit) for unit in units} & dimensions:
            found.setdefault(" ".join(words), " ".join(words))
    return found


def _number(build: _Builder, start: int, language: Language) -> list[int]:
    """Cardinals, digits one by one, decimals, and two groups side by side ("nine fifty", which is asked about), as
    English says them. Returns the nodes at which one may end."""
    numbers = language.numbers
    said = numbers.said
    known = {*said.values(), *_OTHERS.get(language.code, numbers.digit)}
    digits = {word: said[value] for word, value in numbers.digit.items() if word in known}
    ones = {word: out for word, out in digits.items() if out != said[0]}
    teens = {said[value]: said[value] for value in numbers.teen.values()}
    tens = {said[value]: said[value] for value in numbers.ten.values()}
    hundreds = dict.fromkeys(numbers.hundred, said[100])
    thousands = {said[_LARGEST_SCALE]: said[_LARGEST_SCALE]}
    points = dict.fromkeys(numbers.point, numbers.said_point)
    first, digit, row, teen, ten, tenth = (build.node() for _ in range(6))
    hundred, below, thousand, kilo_digit, kilo_hundred, last, last_ten = (build.node() for _ in range(7))
    point, decimals, decimal_ten, group, group_ten = (build.node() for _ in range(5))
    build.move(start, first)
    build.words(start, first, dict.fromkeys(numbers.minus, numbers.said_minus))
    build.words(first, digit, digits)
    build.words(first, teen, teens)
    build.words(first, ten, tens)
    articles = build.node()
    build.words(first, articles, dict.fromkeys(list(numbers.articles)[:1], said[1]))
    build.words(articles, hundred, hundreds)
    build.words(articles, thousand, thousands)
    build.words(digit, row, digits)
    build.words(row, row, digits)
    build.words(ten, tenth, ones)
    for node in (digit, teen):
        build.words(node, hundred, hundreds)
    joined = dict.fromkeys(numbers.and_, "")
    after_hundred = build.node()
    build.move(hundred, after_hundred)
    build.words(hundred, after_hundred, joined)
    below_ten = build.node()
    build.words(after_hundred, below, {**ones, **teens})
    build.words(after_hundred, below_ten, tens)
    build.words(below_ten, below, ones)
    for node in (digit, teen, ten, tenth, hundred, below, below_ten):
        build.words(node, thousand, thousands)
    after_thousand = build.node()
    build.move(thousand, after_thousand)
    build.words(thousand, after_thousand, joined)
    build.words(after_thousand, kilo_digit, ones)
    build.words(after_thousand, last, teens)
    build.words(after_thousand, last_ten, tens)
    build.words(kilo_digit, kilo_hundred, hundreds)
    after_kilo = build.node()
    build.move(kilo_hundred, after_kilo)
    build.words(kilo_hundred, after_kilo, joined)
    build.words(after_kilo, last, {**ones, **teens})
    build.words(after_kilo, last_ten, tens)
    build.words(last_ten, last, ones)
    for node in (digit, teen, ten, tenth):
        build.words(node, group, teens, GROUP)
        build.words(node, group_ten, tens, GROUP)
    build.words(group_ten, group, ones)
    whole = [digit, row, teen, ten, tenth, hundred, below, below_ten, thousand, kilo_digit, kilo_hundred, last]
    whole += [last_ten, group, group_ten]
    for node in (first, *whole):
        build.words(node, point, points)
    build.words(point, decimals, {**digits, **teens})
    build.words(decimals, decimals, digits)
    build.words(point, decimal_ten, tens)
    build.words(decimals, decimal_ten, tens)
    build.words(decimal_ten, decimals, ones)
    half = build.node()
    for phrase, parts in numbers.fraction.items():
        if parts in (2, 4) and phrase[0] not in ("fourth", "fourths", "halves"):
            build.phrase(first, half, " ".join(phrase), None, GROUP)
            for node in (digit, teen, ten, tenth, hundred, below):
                joint = build.node()
                build.words(node, joint, dict.fromkeys(numbers.and_, next(iter(numbers.and_))), GROUP)
                build.words(joint, joint, dict.fromkeys(list(numbers.articles)[:1], ""))
                build.phrase(joint, half, " ".join(phrase))
    return [*whole, decimals, decimal_ten, half]


def _named(build: _Builder, start: int, expected: Expected, language: Language) -> None:
    """Items with what was done to them, looks with a judgement, questions about a reading, timers."""
    sheet = expected.sheet
    for kind in ITEM_KINDS:
        leads = language.lead_ins.get(kind, ())
        named = build.node()
        for lead in leads:
            build.phrase(start, named, _plain(lead), _plain(leads[0]))
        for item in sheet.items.values():
            for name in (item.name, *item.aliases):
                build.phrase(named, END, _plain(name), _plain(item.name))
    looks = [sheet.looks[one] for one in dict.fromkeys((*expected.looks, *expected.step.looks)) if one in sheet.looks]
    judged = build.node()
    for look in looks:
        for name in (look.name, *look.aliases):
            build.phrase(start, judged, _plain(name), _plain(look.name))
    if looks:
        for phrases in language.judgements.values():
            for phrase in phrases:
                build.phrase(judged, END, _plain(phrase), _plain(phrases[0]))
                build.phrase(start, END, _plain(phrase), _plain(phrases[0]))
    asked = build.node()
    for topic in ("limit", "reading"):
        leads_of = language.query_leads.get(topic, ())
        for words in leads_of:
            build.phrase(start, asked, " ".join(words), " ".join(leads_of[0]))
    for reading in dict.fromkeys((*expected.waits, *expected.step.readings)):
        if reading in sheet.readings:
            build.phrase(asked, END, _plain(sheet.readings[reading].name))
    timer, timed = build.node(), build.node()
    leads = language.lead_ins.get(Kind.TIMER, ())
    for lead in leads:
        build.phrase(start, timer, _plain(lead), _plain(leads[0]), ASIDE)
    for words in sorted(language.timer_for):
        build.phrase(timer, timed, " ".join(words), "")
    build.move(timer, timed)
    in_unit = build.node()
    for word, out in _small_numbers(language).items():
        build.phrase(timed, in_unit, word, out)
    for unit in ("s", "min", "h"):
        for phrase in language.unit_words.get(unit, ())[:2]:
            build.phrase(in_unit, END, _plain(phrase), language.unit_words[unit][0])


def _small_numbers(language: Language) -> dict[str, str]:
    """1 to 99, as a timer is set."""
    said = language.numbers.said
    found = {said[value]: said[value] for value in range(1, 20)}
    for ten in range(20, 100, 10):
        found[said[ten]] = said[ten]
        found |= {f"{said[ten]} {said[one]}": f"{said[ten]} {said[one]}" for one in range(1, 10)}
    return found


def _hold(build: _Builder, start: int, expected: Expected, language: Language) -> None:
    """The phrase of the hold, and what turns it round or falls short of it."""
    if expected.hold is None:
        return
    phrase = _plain(expected.hold.phrase)
    build.phrase(start, END, phrase)
    for text in _near(phrase, language):
        is_only_begun = text.split()[-2:] == phrase.split()[-2:] and text.split()[0] != phrase.split()[0]
        build.phrase(start, END, text, None, BEGINNING if is_only_begun else 0.0)


def contraries(phrase: str, language: Language) -> list[str]:
    """The phrase with one of its small words turned round."""
    words = phrase.split()
    return [
        " ".join((*words[:at], other, *words[at + 1 :]))
        for at, word in enumerate(words)
        for other in language.contraries.get(word, ())
    ]


def _near(phrase: str, language: Language) -> list[str]:
    """What is near a hold's phrase and means something else: turned round, cut short, refused."""
    words = phrase.split()
    found = [*contraries(phrase, language), " ".join(words[1:]), " ".join(words[:-1])]
    found += [f"{no} {phrase}" for no in ("do not", "never")]
    return [text for text in dict.fromkeys(found) if text and text != phrase]


def _openings(build: _Builder, start: int, expected: Expected, language: Language) -> None:
    """How notes, reminders and names that the sheet lacks begin; what follows is a recogniser's to write."""
    for kind in (Kind.NOTE, Kind.REMINDER, Kind.DONE, *((Kind.JUDGED,) if expected.has_failed else ())):
        for lead in language.lead_ins.get(kind, ()):
            opened = build.node()
            if build.phrase(start, opened, _plain(lead), None, ASIDE):
                build.anything(opened, END)
