"""Words that are a reading: [name] number [unit], or several points -> a READING or the question that it needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bench_voice.core.intents import Asks, Expected, Kind, Measurement, Question, ValueKind, options_of
from bench_voice.core.sheet import ReadingSpec
from bench_voice.speech.names import NameTable
from bench_voice.speech.points import read_list, without_echo
from bench_voice.words.numbers import Spoken
from bench_voice.words.phrases import Language, Phrase
from bench_voice.words.quantities import SpokenQuantity, read_quantity
from bench_voice.words.text import BREAK
from bench_voice.words.units import same_dimension
from bench_voice.words.values import is_absurd, is_plausible, reading

Meant = Measurement | Question  # a value, or what must be asked about it

LONGEST_AROUND = 5  # words of the longest filler or hedge


@dataclass(frozen=True)
class Stripped:
    """Tokens without fillers at an end; whether a hedge or a vague amount was among what went."""

    tokens: tuple[str, ...]
    is_hedged: bool = False
    is_vague: bool = False


def strip_once(tokens: tuple[str, ...], language: Language, at_end: bool = False) -> Stripped | None:
    """One filler, hedge or break off an end, or None when there is none. A lone phrase is kept."""
    if not tokens:
        return None
    if tokens[-1 if at_end else 0] == BREAK:
        return Stripped(tokens[:-1] if at_end else tokens[1:])
    for length in range(min(LONGEST_AROUND, len(tokens)), 0, -1):
        phrase = tokens[-length:] if at_end else tokens[:length]
        rest = tokens[:-length] if at_end else tokens[length:]
        if phrase in language.fillers:
            return Stripped(rest)
        if phrase in language.hedges:
            return Stripped(rest, is_hedged=True)
        if phrase in language.vague and not at_end:
            return Stripped(rest, is_vague=True)
    return None


def strip_all(tokens: tuple[str, ...], language: Language, at_end: bool = False) -> Stripped:
    is_hedged = is_vague = False
    while (less := strip_once(tokens, language, at_end)) is not None:
        tokens, is_hedged, is_vague = less.tokens, is_hedged or less.is_hedged, is_vague or less.is_vague
    return Stripped(tokens, is_hedged, is_vague)


@dataclass(frozen=True)
class Wanted:
    """What a reading is read with: who may be named, and whether it must be confirmed before it counts."""

    expected: Expected
    language: Language
    names: NameTable
    allowed: tuple[str, ...]  # reading ids that may be named
    unnamed: str | None  # reading id of a number without a name
    kind: ValueKind = Kind.READING
    keeps_name: bool = True  # a correction without a name leaves it out


def read_reading(tokens: tuple[str, ...], asked: Wanted, is_question: bool = False) -> Meant | None:
    """The whole of `tokens` as one reading (or its question), or None."""
    end = strip_all(tokens, asked.language, at_end=True)
    is_hedged, is_vague, rest = end.is_hedged or is_question, False, end.tokens
    while rest:
        found = _attempt(rest, asked, is_hedged, is_vague)
        if found is not None:
            return found
        less = strip_once(rest, asked.language)
        if less is None:
            return None
        rest, is_hedged, is_vague = less.tokens, is_hedged or less.is_hedged, is_vague or less.is_vague
    return None


def _attempt(tokens: tuple[str, ...], asked: Wanted, is_hedged: bool, is_vague: bool) -> Meant | None:
    """Without a name, or the name first; else the name last, else a name that is only like one of the sheet's."""
    begins = _names_first(tokens, asked.names)
    ways = [_finish(None, tokens, asked, is_hedged, is_vague)]
    ways += [_named(ids, rest, asked, is_hedged, is_vague) for ids, rest in begins]
    found = [intent for intent in ways if intent is not None]
    if not found and not begins:
        found = _with_name_last(tokens, asked, is_hedged, is_vague)
    if not found and not begins:
        nearest = _by_likeness(tokens, asked, is_hedged, is_vague)
        found = [nearest] if nearest is not None else []
    return _one_of(found)


def _names_first(tokens: tuple[str, ...], names: NameTable) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
    """For each name that the tokens begin with: the ids that have it, and what follows."""
    heads = range(1, min(names.longest, len(tokens)) + 1)
    return [(ids, tokens[length:]) for length in heads if (ids := names.find(tokens[:length]))]


def _with_name_last(tokens: tuple[str, ...], asked: Wanted, is_hedged: bool, is_vague: bool) -> list[Meant]:
    """The meanings of a number with its name after it: "four point six front drum"."""
    found: list[Meant] = []
    for length in range(1, min(asked.names.longest, len(tokens) - 1) + 1):
        ids = asked.names.find(tokens[-length:])
        if ids:
            number = strip_all(tokens[:-length], asked.language, at_end=True).tokens
            intent = _named(ids, number, asked, is_hedged, is_vague)
            if intent is not None and not _lacks_number(intent):
                found.append(intent)
    return found


def _by_likeness(tokens: tuple[str, ...], asked: Wanted, is_hedged: bool, is_vague: bool) -> Meant | None:
    numbers = asked.language.numbers
    begins = (numbers.digit, numbers.teen, numbers.ten, numbers.minus, numbers.point)
    starts = (i for i, t in enumerate(tokens) if t[0] in "0123456789." or any(t in group for group in begins))
    at = next(starts, 0)
    if not at or at > asked.names.longest + 4:
        return None
    name = tuple(t for t in strip_all(tokens[:at], asked.language, True).tokens if t != BREAK)
    ids = asked.names.nearest(name)
    return _named(ids, tokens[at:], asked, is_hedged, is_vague) if ids else None


def _one_of(found: Sequence[Meant]) -> Meant | None:
    """The only meaning; several different ones are asked, each as an option."""
    if not found:
        return None
    numbered = [intent for intent in found if not _lacks_number(intent)] or list(found)
    different: list[Meant] = []
    for intent in numbered:
        if all(intent.meaning() != other.meaning() or _asks(intent) != _asks(other) for other in different):
            different.append(intent)
    if len(different) == 1:
        return different[0]
    options = tuple(
        o for intent in different for o in (options_of(intent) or (intent,)) if o.kind is not Kind.AMBIGUOUS
    )
    return Question(Asks.WHICH_NAME, options=options) if options else different[0]


def _asks(intent: Meant) -> Asks | None:
    return intent.asks if isinstance(intent, Question) else None


def _lacks_number(intent: Meant) -> bool:
    return _asks(intent) is Asks.NO_NUMBER


def _named(ids: tuple[str, ...], rest: tuple[str, ...], asked: Wanted, is_hedged: bool, is_vague: bool) -> Meant | None:
    known = tuple(id_ for id_ in ids if id_ in asked.allowed)
    if not known:
        return None
    after = strip_all(rest, asked.language)
    is_hedged, is_vague = is_hedged or after.is_hedged, is_vague or after.is_vague
    if not after.tokens:
        if is_vague or len(known) > 1:
            return None
        spec = asked.expected.sheet.readings[known[0]]
        return Question(Asks.NO_NUMBER, name=spec.id, detail=spec.name)
    intents = [_finish(id_, after.tokens, asked, is_hedged, is_vague) for id_ in known]
    there = [intent for intent in intents if intent is not None]
    if len(known) == 1 or not there:
        return there[0] if there else None
    options = tuple(option for intent in there for option in (options_of(intent)[:1] or (intent,)))
    return Question(Asks.WHICH_NAME, options=options)


def _finish(id_: str | None, tokens: tuple[str, ...], asked: Wanted, is_hedged: bool, is_vague: bool) -> Meant | None:
    """Number, unit and points of the reading `id_` (None: the unnamed one)."""
    target = id_ if id_ is not None else asked.unnamed
    if target is None:
        return None
    spec = asked.expected.sheet.readings[target]
    name = target if id_ is not None or asked.keeps_name else None
    if spec.points > 1:
        tokens = without_echo(tokens, spec, asked.language)
    plain = tuple(token for token in tokens if token != BREAK)
    if _is_range(plain, asked.language) or is_vague:
        return _vague_amount(plain, name, asked.language)
    wanted = asked.expected.wanted_of(target)
    saids = read_quantity(plain, asked.language)
    # "two hundred and five" is one number, although "and" can stand between points.
    is_one = bool(saids) and saids[0].number.is_sure and BREAK not in tokens and set(plain) & asked.language.separators
    listed = None
    if spec.points > 1 and not is_one:
        listed = read_list(tokens, spec, max(wanted, 2), asked.language, name, asked.kind)
    if listed is not None:
        if (
            saids
            and saids[0].number.is_sure
            and BREAK in tokens
            and len(plain) > 2
            and _has_scale(plain, asked.language)
        ):
            whole = from_quantities(saids, spec, name, asked.kind)
            options = (*(options_of(listed) or (listed,)), *(options_of(whole) or (whole,)))
            return Question(Asks.WHICH_NUMBER, name=name, options=options)
        return _asked_first(listed) if is_hedged else listed
    if not saids:
        return None
    intent = from_quantities(saids, spec, name, asked.kind)
    return _asked_first(intent) if is_hedged else intent


def _has_scale(tokens: tuple[str, ...], language: Language) -> bool:
    return any(token in language.numbers.scale or token in language.numbers.hundred for token in tokens)


def _asked_first(intent: Meant) -> Meant:
    """A hedge: the same number, but only on *affirm*."""
    if intent.kind is Kind.AMBIGUOUS:
        return intent
    return Question(Asks.CONFIRM_NUMBER, name=intent.name, options=(intent,), is_offer=True)


def _is_range(tokens: tuple[str, ...], language: Language) -> bool:
    return any((token,) in language.vague for token in tokens[1:-1])


def _vague_amount(tokens: tuple[str, ...], name: str | None, language: Language) -> Meant | None:
    """ "a couple of thou", "between four and five": asked without an offer; anything but amounts in it is talk."""
    known = set(language.number_words)
    for token in tokens:
        is_amount = token in known or token[0].isdigit() or (token,) in language.units or (token,) in language.vague
        if not (is_amount or (token,) in language.ambiguous_units or any(token in unit for unit in language.units)):
            return None
    return Question(Asks.CONFIRM_NUMBER, name=name)


def from_quantities(saids: Sequence[SpokenQuantity], spec: ReadingSpec, name: str | None, kind: ValueKind) -> Meant:
    """One number: accepted, or the question that it needs. Units decide between meanings, values never do."""
    fitting = [(said, units) for said in saids if (units := _fitting_units(said, spec))]
    if not fitting:
        return Question(Asks.WRONG_UNIT, name=name, detail=saids[-1].unit_said)
    with_unit = [pair for pair in fitting if pair[0].unit is not None]
    if with_unit and len(fitting) > 1 and same_dimension(spec.unit, "s"):
        fitting = with_unit  # "three thirty seconds" at a reading of time
    if len(fitting) > 1:
        options = tuple(reading(spec, name, v, u, kind) for s, us in fitting for u in us for v in s.number.candidates)
        return Question(Asks.WHICH_NUMBER, name=name, options=options, is_offer=True)
    said, units = fitting[0]
    if said.number.is_tenths and said.unit is None and not said.unit_options:
        return _tenths(said, spec, name, kind)
    if len(units) > 1 or (said.unit_options and not _is_own_unit(said, spec)):
        options = tuple(reading(spec, name, said.number.value, unit, kind) for unit in units)
        return Question(Asks.WHICH_UNIT, name=name, options=options, is_offer=len(units) == 1, detail=said.unit_said)
    return _which_candidate(said.number, units[0], spec, name, kind)


def _fitting_units(said: SpokenQuantity, spec: ReadingSpec) -> tuple[str, ...]:
    """The units that can be meant and that measure what the reading does."""
    if said.unit is not None:
        units: tuple[str, ...] = (said.unit,)
    elif not said.unit_options or _is_own_unit(said, spec):
        units = (spec.read_in,)
    else:
        units = said.unit_options
    return tuple(unit for unit in units if same_dimension(unit, spec.unit))


def _is_own_unit(said: SpokenQuantity, spec: ReadingSpec) -> bool:
    """Whether a word for several units is taken for the one that the reading is read in."""
    return spec.read_in in said.unit_options and not said.is_always_asked


def _which_candidate(number: Spoken, unit: str, spec: ReadingSpec, name: str | None, kind: ValueKind) -> Meant:
    """The number in its unit; asked where the words can be several numbers, or this part can hardly have it."""
    candidates = tuple(reading(spec, name, value, unit, kind) for value in number.candidates)
    if not number.is_sure:
        likely = tuple(c for c in candidates if is_plausible(c.in_limit_unit, spec))
        if len(likely) == 1:
            candidates = (*likely, *(c for c in candidates if c is not likely[0]))
        return Question(Asks.WHICH_NUMBER, name=name, options=candidates, is_offer=True)
    if number.pointed is not None:
        pointed = reading(spec, name, number.pointed, unit, kind)
        if not is_plausible(candidates[0].in_limit_unit, spec) and is_plausible(pointed.in_limit_unit, spec):
            return Question(Asks.WHICH_NUMBER, name=name, options=(pointed, *candidates), is_offer=True)
    if is_absurd(candidates[0].in_limit_unit, spec):
        return Question(Asks.IMPLAUSIBLE, name=name, options=candidates, is_offer=True)
    return candidates[0]


def _tenths(said: SpokenQuantity, spec: ReadingSpec, name: str | None, kind: ValueKind) -> Meant:
    """Bare "two tenths": of the step's unit to most people, of a thousandth of an inch to a machinist."""
    options = [reading(spec, name, said.number.value, spec.read_in, kind)]
    if same_dimension(spec.unit, "thou") and said.number.value < 1 and spec.read_in != "thou":
        options.append(reading(spec, name, said.number.value, "thou", kind))
    elif spec.read_in == "thou" and said.number.value < 1:
        options.append(reading(spec, name, said.number.value, "in", kind))
    return Question(Asks.WHICH_NUMBER, name=name, options=tuple(options), is_offer=True)


def phrase_of(tokens: Sequence[str]) -> Phrase:
    return tuple(token for token in tokens if token != BREAK)
