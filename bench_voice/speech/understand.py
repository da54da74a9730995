"""What was heard -> one intent. Full match or nothing; pure, never raises.

Order: a hold's own phrase, whole commands, lead-ins ("note …"), questions, judgements, readings. What fits none of
them whole is UNKNOWN: talk. Cost is linear in the words (at most `MAX_WORDS` are looked at) and in the sheet's names.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import dropwhile

from bench_voice.core.intents import (
    Asks,
    Confirmation,
    Expected,
    Intent,
    ItemChange,
    ItemKinds,
    Judgement,
    Kind,
    Measurement,
    Question,
    Remark,
    Timer,
    Unknown,
    bare,
    id_of,
    options_of,
)
from bench_voice.speech.names import SheetNames, sheet_names
from bench_voice.speech.queries import read_query, reckoned
from bench_voice.speech.readings import Wanted, read_reading, strip_all
from bench_voice.words.numbers import split_compounds
from bench_voice.words.phrases import Language, Phrase, load_language
from bench_voice.words.quantities import read_quantity
from bench_voice.words.text import BREAK, MAX_WORDS, tokens, words
from bench_voice.words.units import same_dimension

_LONGEST_LEAD = 5
_MAX_HEARD = 20_000  # characters looked at
_ONLY_WHEN_FAILED = frozenset((Kind.REPLACE, Kind.JUDGED))


def understand(heard: str, expected: Expected, language: Language | None = None) -> Intent:
    """The meaning of `heard` at the step of `expected`; UNKNOWN when it has none, AMBIGUOUS when it must be asked."""
    language = language or load_language(expected.sheet.language)
    found, is_question = tokens(heard[:_MAX_HEARD])
    said = tuple(token for token in found if token != BREAK)
    whole = " ".join(said)
    intent = None if len(heard) > _MAX_HEARD else _meaning(tuple(found), said, is_question, expected, language)
    return replace(intent or Unknown(), heard=whole)


def _meaning(
    found: tuple[str, ...], said: Phrase, is_question: bool, expected: Expected, language: Language
) -> Intent | None:
    if not said:
        return None
    # Word for word, before anything is dropped or forgiven. Another hold's phrase means nothing here.
    if expected.hold is not None and not is_question and said == words(expected.hold.phrase):
        return Confirmation(expected.hold.id)
    if said in language.command_of or said in language.query_of:
        return _fixed(said, is_question, expected, language)
    if expected.choices and not is_question and (chosen := _chosen(said, expected, language)) is not None:
        return chosen
    lead = None if is_question else _lead_in(said, language)
    if lead is not None and (free := _free_text(*lead, expected)) is not None:
        return free
    if len(said) > MAX_WORDS:
        return None
    return _parsed(found, is_question, expected, language)


def _fixed(said: Phrase, is_question: bool, expected: Expected, language: Language) -> Intent | None:
    """A phrase that is a command or a question as it stands. Of commands, few may be asked ("what is left?")."""
    command = language.command_of.get(said)
    if command is not None and not is_question:
        return None if command in _ONLY_WHEN_FAILED and not expected.has_failed else bare(command)
    if said in language.query_of:
        return read_query(said, expected, sheet_names(expected.sheet, language), language, "")
    return bare(command) if command in (Kind.LEFT, Kind.WHERE, Kind.HELP) else None


def _parsed(typed: tuple[str, ...], is_question: bool, expected: Expected, language: Language) -> Intent | None:
    """What has names and numbers in it: lead-ins, questions, judgements, readings."""
    found = _without_hesitations(split_compounds(typed, language.numbers), language)
    said = tuple(token for token in found if token != BREAK)
    if not said:
        return None
    names = sheet_names(expected.sheet, language)
    lead = None if is_question else _lead_in(said, language)
    if lead is not None:
        return _led_in(*lead, found, expected, names, language)
    if said[0] in language.question_starts:
        return read_query(said, expected, names, language, " ".join(typed))
    judgement = _judgement(found, expected, names, language) if expected.looks and not is_question else None
    meant = judgement or _reading(found, is_question, expected, names, language)
    if meant is None and language.code == "en":
        # "drill for m eight": a question without a question's word, once it can be no reading.
        return reckoned(" ".join(typed))
    return meant


def _led_in(
    kind: Kind, rest: Phrase, found: tuple[str, ...], expected: Expected, names: SheetNames, language: Language
) -> Intent | None:
    """What follows a lead-in: `rest`, the last words of `found`."""
    if kind is Kind.FITTED or kind is Kind.TAKEN_OFF or kind is Kind.REMOVED or kind is Kind.PUT_BACK:
        return _item(kind, rest, names, language)
    if kind is Kind.TIMER:
        return _timer(rest, language)
    if kind is Kind.CORRECTION:
        n_words = sum(token != BREAK for token in found)
        return _correction(_after(found, n_words - len(rest)), expected, names, language)
    return None


def _without_hesitations(found: tuple[str, ...], language: Language) -> tuple[str, ...]:
    """ "um" is a hesitation where people speak, and the micrometre's sign after figures ("46 um" typed)."""
    return tuple(
        token
        for index, token in enumerate(found)
        if token not in language.hesitations or (index and found[index - 1][-1:].isdigit())
    )


def _lead_in(said: Phrase, language: Language) -> tuple[Kind, Phrase] | None:
    for length in range(min(_LONGEST_LEAD, len(said) - 1), 0, -1):
        kind = language.lead_in_of.get(said[:length])
        if kind is not None:
            return kind, said[length:]
    return None


def _after(found: tuple[str, ...], n_words: int) -> tuple[str, ...]:
    """The tokens after the first `n_words` words, breaks kept."""
    for index, token in enumerate(found):
        if token != BREAK:
            if not n_words:
                return found[index:]
            n_words -= 1
    return ()


def _free_text(kind: Kind, rest: Phrase, expected: Expected) -> Intent | None:
    if kind is Kind.REMINDER or kind is Kind.DONE:
        return ItemChange(kind, text=" ".join(rest))
    if kind is Kind.NOTE or (kind is Kind.JUDGED and expected.has_failed):
        return Remark(kind, " ".join(rest))
    return None


def _item(kind: ItemKinds, rest: Phrase, names: SheetNames, language: Language) -> Intent | None:
    bare = rest
    ids: tuple[str, ...] = names.items.find(bare)
    while not ids and bare and (bare[0] in language.numbers.articles or bare[:1] in language.fillers):
        bare = bare[1:]
        ids = names.items.find(bare)
    if not bare:
        return None
    ids = ids or names.items.nearest(bare)
    text = " ".join(bare)
    if len(ids) > 1:
        options = tuple(ItemChange(kind, id_, text) for id_ in ids)
        return Question(Asks.WHICH_NAME, options=options, text=text)
    return ItemChange(kind, ids[0] if ids else None, text)


def _timer(rest: Phrase, language: Language) -> Intent | None:
    for length in range(min(len(rest), 16), 0, -1):
        after = rest[length:]
        join = next((n for n in (2, 1) if after[:n] in language.timer_for and len(after) > n), 0)
        if after and not join:
            continue
        text = " ".join(after[join:])
        for said in reversed(read_quantity(rest[:length], language)):
            if said.unit is not None and same_dimension(said.unit, "s") and said.number.value > 0:
                options = tuple(Timer(value, said.unit, text) for value in said.number.candidates)
                if said.number.is_sure:
                    return options[0]
                return Question(Asks.WHICH_NUMBER, options=options, is_offer=True, text=text)
            if said.unit is None and not said.unit_options and said.number.is_sure and said.number.value > 0:
                options = tuple(Timer(said.number.value, u, text) for u in ("min", "s", "h"))
                return Question(Asks.WHICH_UNIT, options=options, is_offer=True, text=text)
    return None


def _correction(rest: tuple[str, ...], expected: Expected, names: SheetNames, language: Language) -> Intent | None:
    """ "correction, [name] four point eight": of the reading named, or of the one recorded last."""
    last = expected.last_reading if expected.last_reading in expected.sheet.readings else None
    unnamed = last or (expected.waits[0] if expected.waits else None)
    asked = Wanted(
        expected, language, names.readings, allowed=(*expected.correctable, *expected.waits), unnamed=unnamed,
        kind=Kind.CORRECTION, keeps_name=False,
    )  # fmt: skip
    return _about_correction(read_reading(rest, asked))


def _about_correction(intent: Measurement | Question | None) -> Measurement | Question | None:
    return replace(intent, is_about_correction=True) if isinstance(intent, Question) else intent


def _chosen(said: Phrase, expected: Expected, language: Language) -> Intent | None:
    """What "which one?" is answered with: words of one offered name that no other has ("left", "the right wheel")."""
    bare = {word for word in strip_all(said, language).tokens if word not in language.numbers.articles}
    by_name = [(choice, expected.sheet.name_of(id_of(choice) or "") or "") for choice in expected.choices]
    fitting = [choice for choice, name in by_name if bare and bare <= set(words(name))]
    return fitting[0] if len(fitting) == 1 else None


def _is_denied(rest: tuple[str, ...], language: Language) -> bool:
    """What follows a judgement takes it back: "good, not", "good, no". "Good, no cracks" is still good."""
    if not rest or rest[0] not in language.negations:
        return False
    return rest[0] in language.sentence_negations or rest[1:2] in ((), (BREAK,))


def _judgement(found: tuple[str, ...], expected: Expected, names: SheetNames, language: Language) -> Intent | None:
    """ "good", "hub surface good", "good hub surface"; a note after a break or "note" ("bad, a crack at the edge")."""
    body, rest = _note_apart(found, language)
    if _is_denied(rest, language):
        return None
    note = " ".join(token for token in rest if token != BREAK)
    body = strip_all(body, language).tokens
    for length in range(1, min(3, len(body)) + 1):
        for word, name in ((body[:length], body[length:]), (body[-length:], body[:-length])):
            judgement = language.judgement_of.get(word)
            if judgement is None:
                continue
            looks = _looks_meant(name, expected, names, language)
            if len(looks) == 1:
                return Judgement(looks[0], judgement, note)
            if looks:
                options = tuple(Judgement(look, judgement, note) for look in looks)
                return Question(Asks.WHICH_NAME, options=options, text=judgement.value)
    return None


def _note_apart(found: tuple[str, ...], language: Language) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The judgement, and what is noted after it: after the first break or "note"."""
    joins = language.note_joins | {BREAK}
    for index, token in enumerate(found[1:], start=1):
        if token in joins:
            return found[:index], tuple(dropwhile(joins.__contains__, found[index:]))
    return found, ()


def _looks_meant(name: tuple[str, ...], expected: Expected, names: SheetNames, language: Language) -> tuple[str, ...]:
    """The step's looks that a judgement with this name is about; without any name it is the next one."""
    if not name:
        return expected.looks[:1]
    bare = strip_all(strip_all(name, language).tokens, language, at_end=True).tokens
    if not bare:
        return ()
    return tuple(look for look in names.looks.find(bare) or names.looks.nearest(bare) if look in expected.looks)


def _reading(
    found: tuple[str, ...], is_question: bool, expected: Expected, names: SheetNames, language: Language
) -> Intent | None:
    if expected.corrects is not None and (corrected := _corrected(found, is_question, expected, names, language)):
        return corrected
    if not expected.waits:
        return _retaken(found, is_question, expected, names, language)
    unnamed = expected.asked_for if expected.asked_for in expected.waits else None
    if unnamed is None and len(expected.waits) == 1:
        unnamed = expected.waits[0]
    asked = Wanted(expected, language, names.readings, allowed=expected.waits, unnamed=unnamed)
    at = _last_correction(found, language)
    if at is None:
        read = read_reading(found, asked, is_question) or (_of_which(found, asked) if unnamed is None else None)
        return read or _retaken(found, is_question, expected, names, language)
    before, after = found[: at[0]], found[at[1] :]
    left = _part_said(before, asked)
    if left is None:
        return None
    right = read_reading(after, asked, is_question)
    if right is not None and (several := _last_of_several(before, right, asked)) is not None:
        return several
    if right is None or left == "" or right.name == left:
        return right
    # The name was said before the slip; say it again before the number that counts, unless another name was said.
    if asked.names.longest and read_reading(after, replace(asked, unnamed=None)) is not None:
        return right
    return read_reading(after, replace(asked, unnamed=left), is_question)


def _retaken(
    found: tuple[str, ...], is_question: bool, expected: Expected, names: SheetNames, language: Language
) -> Intent | None:
    """Another value of a reading that is taken: by its name, or without one where none is waited for."""
    if not expected.retakes:
        return None
    unnamed = None if expected.waits else expected.retakes[0]
    return read_reading(found, Wanted(expected, language, names.readings, expected.retakes, unnamed), is_question)


def _corrected(
    found: tuple[str, ...], is_question: bool, expected: Expected, names: SheetNames, language: Language
) -> Intent | None:
    """The answer to a question about a correction: a number without a name, or with that reading's."""
    known = expected.corrects
    if known is None or known not in expected.sheet.readings:
        return None
    asked = Wanted(expected, language, names.readings, allowed=(known,), unnamed=known, kind=Kind.CORRECTION)
    return _about_correction(read_reading(found, asked, is_question))


def _of_which(found: tuple[str, ...], asked: Wanted) -> Intent | None:
    """A number without a name where several readings are waited for: which one? Those whose unit fits are named."""
    options: list[Intent] = []
    for id_ in asked.expected.waits:
        intent = read_reading(found, replace(asked, allowed=(), unnamed=id_))
        if intent is not None:
            options += [option for option in (options_of(intent) or (intent,)) if option.kind is Kind.READING][:1]
    if not options:
        return None
    return Question(Asks.WHICH_NAME, options=tuple(options), is_offer=len(options) == 1)


def _last_of_several(before: tuple[str, ...], right: Measurement | Question, asked: Wanted) -> Intent | None:
    """ "Four point six, four point five, correction, four point four": the last of several points is another one. None
    where no several points stand before. What does not fit together is asked for one by one."""
    listed = read_reading(before, asked)
    options = (listed, *options_of(listed)) if listed is not None else ()
    lists = [option for option in options if isinstance(option, Measurement) and option.values]
    if not lists:
        return None
    several = lists[0]
    last = (
        right
        if isinstance(right, Measurement) and several is listed and not right.values
        else Measurement(several.kind)
    )
    is_alike = last.kind is several.kind and last.unit == several.unit
    is_same = is_alike and last.name in (None, several.name, asked.unnamed)
    if not is_same or last.value is None or last.in_limit_unit is None:
        return Question(Asks.HOW_MANY_POINTS, name=several.name)
    return replace(
        several,
        values=(*several.values[:-1], last.value),
        values_in_limit_unit=(*several.values_in_limit_unit[:-1], last.in_limit_unit),
    )


def _last_correction(found: tuple[str, ...], language: Language) -> tuple[int, int] | None:
    """Where the last "correction" inside the utterance begins and ends."""
    phrases = [words(p) for p in language.lead_ins[Kind.CORRECTION]]
    for start in range(len(found) - 2, 0, -1):
        for phrase in phrases:
            if found[start : start + len(phrase)] == phrase and start + len(phrase) < len(found):
                return start, start + len(phrase)
    return None


def _part_said(before: tuple[str, ...], asked: Wanted) -> str | None:
    """Before "correction" stands a reading or the beginning of one: its name's id, "" without a name, else None."""
    earlier = _last_correction(before, asked.language)
    if earlier is not None:
        return _part_said(before[: earlier[0]], asked)
    body = strip_all(before, asked.language).tokens
    numbers = set(asked.language.number_words)

    def is_number(token: str) -> bool:
        return token == BREAK or token in numbers or token[0].isdigit() or any(token in u for u in asked.language.units)

    for length in range(min(asked.names.longest, len(body)), 0, -1):
        ids = tuple(i for i in asked.names.find(body[:length]) if i in asked.allowed)
        rest = strip_all(body[length:], asked.language).tokens
        if len(ids) == 1 and all(map(is_number, rest)):
            return ids[0]
    return "" if body and all(map(is_number, body)) else None
