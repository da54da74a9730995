"""Spoken questions -> answers: `reckon("what is sixty five foot pounds in newton metres")`.

A table of patterns, whole match or refused with the reason. Words that can be cut in more than one way are asked.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Decimal

from bench_voice.core.signs import shown_unit
from bench_voice.errors import BenchError
from bench_voice.reckon import electrics, mixing, points, threads, torque, tyres
from bench_voice.reckon.answer import PRACTICE, Answer, ReckonError, Value, digits_shown, stated, value_of
from bench_voice.reckon.matching import (
    FINISHES,
    MAX_TOKENS,
    Captures,
    amount,
    digits,
    matches,
    number_of,
    pattern_words,
    thread_of,
    unit_of,
    whole,
)
from bench_voice.reckon.measure import conversion, convert, dimension
from bench_voice.reckon.words import language
from bench_voice.words.text import BREAK, tokens

Handler = Callable[[Captures], Answer]
_LENGTH, _TORQUE, _VOLUME = ("length",), ("torque",), ("volume",)


def _convert(c: Captures, interval: bool = False) -> Answer:
    try:
        target = unit_of(c["u"])
    except ReckonError:
        # "into pounds": the value's own kind says which, where it says one.
        value, unit = amount(c["a"], (), "value")
        target = unit_of(c["u"], dimension(unit))
    kinds = (dimension(target),)
    try:
        value, unit = amount(c["a"], kinds, "value")
    except ReckonError as error:
        # "twenty degrees in fahrenheit": the other scale is meant.
        if error.slug != "reckon-which" or kinds != ("temperature",):
            raise
        scale = "celsius" if target == "degF" else "fahrenheit"
        words = tuple(scale if word in ("degree", "degrees") else word for word in c["a"])
        value, unit = amount(words, kinds, "value")
    return conversion(value, unit, target, interval)


def _extension(c: Captures) -> Answer:
    length, length_unit = amount(c["l"], _LENGTH, "wrench length")
    extra, extra_unit = amount(c["e"], _LENGTH, "extension", length_unit)
    wanted, unit = amount(c["t"], _TORQUE, "torque")
    angle = amount(c["g"], ("angle",), "angle", "deg")[0] if "g" in c else Decimal(0)
    return torque.extension_answer(wanted, unit, length, length_unit, extra, extra_unit, angle)


def _drag(c: Captures) -> Answer:
    wanted, unit = amount(c["t"], _TORQUE, "torque")
    drag, drag_unit = amount(c["d"], _TORQUE, "drag", unit)
    return torque.with_drag(wanted, unit, drag, drag_unit)


def _castle(c: Captures) -> Answer:
    most, unit = amount(c["b"], _TORQUE, "most torque")
    least, least_unit = amount(c["a"], _TORQUE, "least torque", unit)
    at = None
    said = [most, least]
    if "x" in c:
        value, at_unit = amount(c["x"], _TORQUE, "torque", unit)
        at = convert(value, at_unit, unit)
        said.append(value)
    return torque.castle_nut(convert(least, least_unit, unit), most, at, unit, digits_shown(*said))


def _strength(c: Captures) -> str:
    return threads.strength_class(str(number_of(c["k"], "strength class")))


def _state(c: Captures) -> str:
    return FINISHES[c["f"]] if "f" in c else "dry"


def _preload(c: Captures) -> Answer:
    value, unit = amount(c["t"], _TORQUE, "torque")
    return torque.preload_answer(value, unit, thread_of(c["m"]), _strength(c), _state(c))


def _drop(c: Captures) -> Answer:
    length, length_unit = amount(c["l"], _LENGTH, "length")
    current, current_unit = amount(c["i"], ("current",), "current")
    area = number_of(c["s"], "section") if "s" in c else None
    gauge = whole(c["w"], "gauge") if "w" in c else None
    return electrics.drop_answer(length, length_unit, current, current_unit, area, gauge)


def _battery(c: Captures) -> Answer:
    volts, unit = amount(c["v"], ("voltage",), "voltage")
    if "u" not in c:
        return electrics.battery_answer(volts, unit)
    doubt, doubt_unit = amount(c["u"], ("voltage", "ratio"), "uncertainty", unit)
    if doubt_unit == "percent":
        doubt, doubt_unit = volts * doubt / 100, unit
    return electrics.battery_answer(volts, unit, doubt, doubt_unit)


def _mix(c: Captures, is_total: bool = False) -> Answer:
    volume, unit = amount(c["v"], _VOLUME, "volume")
    return mixing.mix_answer(number_of(c["a"], "ratio"), number_of(c["b"], "ratio"), volume, unit, is_total)


def _chain(c: Captures) -> Answer:
    length, unit = amount(c["l"], _LENGTH, "length", "mm")
    pitch = points.chain_pitch_mm(int(digits(c["n"]) or 0))
    pitches = whole(c["p"], "count of pitches")
    percent = points.chain_elongation(convert(length, unit, "mm"), pitches, pitch)
    teeth = whole(c["z"], "count of teeth") if "z" in c else None
    limit = points.chain_limit_percent(teeth)
    over = (f"Over the usual limit of {limit.quantize(Decimal('0.01'))} percent.",) if percent > limit else ()
    smooth = Decimal("1.5")
    warnings = over or ((f"Over {smooth} percent: worn, watch it.",) if percent > smooth else ())
    return Answer(
        "chain", (value_of("elongation", percent, "percent"), stated("length", length, unit)),
        f"{pitches} pitches of a {digits(c['n'])} chain, {{length}}: grown by {{elongation}}.",
        "(L − nP)/(nP)·100", "ANSI B29.1 practice (second-hand)", is_limit=True, warnings=warnings,
    )  # fmt: skip


def _worn(c: Captures) -> Answer:
    now, unit = amount(c["b"], _LENGTH, "size now")
    new, new_unit = amount(c["a"], _LENGTH, "new size", unit)
    new_here = convert(new, new_unit, unit)
    if now > new_here:
        more = "far more" if now > new_here * Decimal("1.5") else "more"
        raise ReckonError(f"{now} {shown_unit(unit)} is {more} than {new} {shown_unit(new_unit)} when new.",
                          mend="Say the new size first, then the size now.", slug="reckon-range")  # fmt: skip
    percent = points.wear_percent(new_here, now)
    return Answer(
        "wear", (value_of("worn", percent, "percent"), stated("new", new, new_unit), stated("now", now, unit)),
        "From {new} to {now}: {worn} worn.", "(new − now)/new·100", PRACTICE,
    )  # fmt: skip


def _lengths(c: Captures, name: str) -> tuple[list[Decimal], str, tuple[Value, ...]]:
    """The points a, b, … in the unit of the last, which the others take where they have none; and as they were said."""
    names = [key for key in ("a", "b", "c", "d") if key in c]
    unit = amount(c[names[-1]], _LENGTH, name)[1]
    said = [(key, *amount(c[key], _LENGTH, name, unit)) for key in names]
    values = [convert(value, own, unit) for _, value, own in said]
    return values, unit, tuple(stated(key, value, own) for key, value, own in said)


def _figure(name: str, value: Decimal, unit: str, echo: tuple[Value, ...], rounding: str = ROUND_HALF_EVEN) -> Value:
    """What comes of points: exact where all were said in one unit, rounded where one was converted."""
    if all(one.unit == unit for one in echo):
        return stated(name, value, unit)
    return value_of(name, value, unit, digits_shown(*(one.value for one in echo)), rounding)


def _points(c: Captures, kind: str, result_words: str, source: str) -> Answer:
    values, unit, echo = _lengths(c, "point")
    is_round = kind == "two-point out-of-round"
    result = points.two_point_out_of_round(values) if is_round else points.spread(values)
    sentence = f"{', '.join('{' + one.name + '}' for one in echo)}: {result_words}"
    # Limits of these say "at most": a figure rounded down could seem to keep one. End play has a least as well.
    rounding = ROUND_HALF_EVEN if kind == "end play" else ROUND_CEILING
    shown = _figure("result", result, unit, echo, rounding)
    return Answer(kind, (shown, *echo), sentence, "largest − smallest", source)


def _feelers(c: Captures) -> Answer:
    leaves, unit, echo = _lengths(c, "leaf")
    total = _figure("total", points.feeler_stack(leaves), unit, echo)
    sentence = f"{' plus '.join('{' + one.name + '}' for one in echo)}: together {{total}}."
    return Answer("feeler stack", (total, *echo), sentence, "sum", PRACTICE)


def _thimble(c: Captures) -> Answer:
    sleeve = number_of(c["a"], "sleeve")
    vernier = number_of(c["v"], "vernier") if "v" in c else Decimal(0)
    result = points.thimble_mm(sleeve, number_of(c["b"], "thimble"), vernier)
    return Answer(
        "micrometer", (stated("reading", result, "mm"),),
        f"Sleeve {sleeve}, thimble {number_of(c['b'], 'thimble')}: {{reading}}.",
        "sleeve + thimble/100 + vernier/1000", "pitch 0.5 mm (ISO 3611)",
    )  # fmt: skip


def _lever(c: Captures) -> Answer:
    length, unit = amount(c["l"], _LENGTH, "lever length")
    rise, rise_unit = amount(c["r"], _LENGTH, "movement", unit)
    angle = points.lever_angle(convert(rise, rise_unit, unit), length)
    return Answer(
        "lever angle",
        (value_of("angle", angle, "deg"), stated("length", length, unit), stated("rise", rise, rise_unit)),
        "{length}, moved {rise}: {angle}.", "2·asin(chord/2L)", "geometry",
    )  # fmt: skip


def _digits(c: Captures) -> str:
    return digits(c["d"]) or ""


_ASK = "(what is|what's|how much is|tell me|)"
_BOLT = "{m:thread} (class|grade|) {k:n} (bolt|screw|stud|)"
_TABLE: tuple[tuple[str, Handler], ...] = (
    # "and": how a recogniser writes "in" before a unit.
    ("(what is|what's|how much is|convert|) {a:q} (in|to|into|as|and) {u:unit}", _convert),
    ("how many {u:unit} (is|are|in|are in|is in|make) {a:q}", _convert),
    (f"{_ASK} (a|the|) (difference|rise|drop) of {{a:q}} (in|to|into) {{u:unit}}", lambda c: _convert(c, True)),
    (f"{_ASK} {{a:q}} (difference|apart|warmer|cooler) (in|to|into) {{u:unit}}", lambda c: _convert(c, True)),
    ("(wrench|) (extension|adapter|adaptor) {l:q} plus {e:q} {t:q} [at {g:q}]", _extension),
    ("(wrench|) (extension|adapter|adaptor) {l:q} plus {e:q} at {g:q} {t:q}", _extension),
    ("(what do i set the wrench to|what do i set|set the wrench|wrench setting) (for|to|) {t:q} (with|) (a|an|) {l:q} "
     "wrench (and|with|plus) (a|an|) {e:q} (extension|adapter|adaptor) [at {g:q}]", _extension),
    (f"{_ASK} {{t:q}} (plus|and|with) {{d:q}} (drag|of drag|prevailing|prevailing torque|running torque)", _drag),
    ("castle nut {a:q} to {b:q} [(lines up at|at) {x:q}]", _castle),
    (f"{_ASK} (the|) preload (of|for|in|on) (a|an|) {_BOLT} at {{t:q}} [{{f:finish}}]", _preload),
    (f"is {{t:q}} (too much|all right|right|okay|ok|too little) for (a|an|) {_BOLT} [{{f:finish}}]", _preload),
    (f"{_ASK} (the|a|) (usual|) torque for (a|an|) {_BOLT} [{{f:finish}}]",
     lambda c: torque.usual_torque_answer(thread_of(c["m"]), _strength(c), _state(c))),
    (f"{_ASK} (the|) stress area (of|for) (a|an|) {{m:thread}}", lambda c: threads.area_answer(thread_of(c["m"]))),
    (f"{_ASK} (the|) proof load (of|for) (a|an|) {_BOLT}",
     lambda c: threads.proof_answer(thread_of(c["m"]), _strength(c))),
    ("(what is|what|which|what size|) (the|) (drill|drill size|tapping drill|tap drill) (is|) for (a|an|) "
     "{m:thread} (tap|thread|)", lambda c: threads.drill_answer(thread_of(c["m"]))),
    ("(what can|what does|) (a|the|) wrench (give|tolerance|deviation|accuracy) at {t:q}",
     lambda c: torque.wrench_answer(*amount(c["t"], _TORQUE, "torque"))),
    ("(what is|how old is|) (tyre|tire) (date|date code|code) {d:digits}", lambda c: tyres.date_answer(_digits(c))),
    (f"{_ASK} (the|) (tyre|tire|) load index {{n:n}}", lambda c: tyres.load_answer(whole(c["n"], "load index"))),
    (f"{_ASK} (the|) (tyre|tire|) speed (symbol|rating|index) {{s:letter}}",
     lambda c: tyres.speed_answer("".join(c["s"]))),
    (f"{_ASK} (the|) (voltage drop|drop) (of|in|over|for|) {{l:q}} (of|) {{s:n}} "
     "(square|square millimetre|square millimetres|square millimeter|square millimeters|square mm) (cable|wire|) "
     "(at|with|and) {i:q}", _drop),
    (f"{_ASK} (the|) (voltage drop|drop) (of|in|over|for|) {{l:q}} (of|) {{w:n}} (gauge|a w g|awg) (cable|wire|) "
     "(at|with|and) {i:q}", _drop),
    ("(how full is|how charged is|what is|) (a|the|my|) battery (at|with|of|) {v:q} (at rest|) "
     "[(plus or minus|give or take|within) {u:q}]", _battery),
    ("(mix|ratio|fluid mix|how much for) {a:n} (to|in) {b:n} (in|into|with|for|and) {v:q}", _mix),
    ("(mix|make) {v:q} (of|at|) {a:n} to {b:n}", lambda c: _mix(c, True)),
    ("chain (number|) {n:chain} {p:n} (pitches|links) {l:q} [(with|and|) {z:n} teeth]", _chain),
    ("(how worn is|how far worn is|wear) (a part|) (from|) {a:q} (to|now) {b:q}", _worn),
    ("(difference|how much difference) (between|) (left|) {a:q} (and|) (right|) {b:q}",
     lambda c: _points(c, "difference", "they differ by {result}.", PRACTICE)),
    ("spread (of|) {a:q} (and|) {b:q} [(and|) {c:q}]",
     lambda c: _points(c, "spread", "the spread is {result}.", PRACTICE)),
    ("(run out|runout) (from|) {a:q} (to|and) {b:q}",
     lambda c: _points(c, "run-out", "the run-out is {result}, total indicator reading.", "49 CFR 570.10(b)")),
    ("end play (from|) {a:q} (to|and) {b:q}",
     lambda c: _points(c, "end play", "the end play is {result}.", PRACTICE)),
    ("(out of round|two point out of round) (of|) {a:q} (and|) {b:q} [(and|) {c:q}]",
     lambda c: _points(c, "two-point out-of-round",
                           "{result} by two points: odd lobes do not show.", "two-point; not ISO 1101 roundness")),
    ("(feeler|feelers|feeler gauge|feeler gauges|leaves) {a:q} (plus|and) {b:q} [(plus|and) {c:q}] "
     "[(plus|and) {d:q}]", _feelers),
    ("(micrometer|micrometre|mic|) sleeve {a:n} thimble {b:n} [vernier {v:n}]", _thimble),
    ("lever (angle|) {l:q} (moved|moves|rises|and) {r:q}", _lever),
)  # fmt: skip
EXAMPLES = (
    "what is sixty five foot pounds in newton metres",
    "extension twelve inches plus four, forty foot pounds",
    "drill for m eight",
)
_AROUND = frozenset(("please", "bench", BREAK))
_MAX_CHARACTERS = 2000


def vocabulary() -> tuple[str, ...]:
    """Every word that a question can hold, sorted: what a recogniser has to know for them."""
    speech = language()
    found = {word for pattern, _ in _TABLE for word in pattern_words(pattern)} | set(speech.number_words)
    found.update(word for phrase in (*speech.units, *speech.ambiguous_units, *FINISHES) for word in phrase)
    found.update(("m", "em", "by", "times", *_AROUND - {BREAK}))
    found.update(symbol.lower() for symbol in tyres.SPEED_KMH)
    return tuple(sorted(word for word in found if word.isalpha() or "'" in word))


def reckon(words: str) -> Answer:
    """The answer to a question in words or figures. Raises ReckonError: not understood, doubtful, or out of range."""
    said = _question_words(words)
    if not said or len(said) > MAX_TOKENS:
        raise _unknown()
    answers: dict[tuple[object, ...], Answer] = {}
    errors: list[BenchError] = []
    for pattern, handler in _TABLE:
        for captures in matches(pattern, said):
            try:
                answer = handler(captures)
            except BenchError as error:
                errors.append(error)
            else:
                answers[(answer.kind, *((one.value, one.unit) for one in answer.values))] = answer
    doubtful = [error for error in errors if error.slug == "reckon-which"]
    if len(answers) == 1 and not doubtful:
        return next(iter(answers.values()))
    if len(answers) > 1:
        raise ReckonError(
            "That can be taken in more than one way.", mend="Say each number with its unit.", slug="reckon-which"
        )
    if errors:
        raise as_reckon_error((doubtful or errors)[0])
    raise _unknown()


def _question_words(words: str) -> tuple[str, ...]:
    """The words that count; none of a text that is far too long."""
    if len(words) > _MAX_CHARACTERS:
        return ()
    found, hums = tokens(words)[0], language().hesitations
    # "um" and "mm" are hums, and units behind figures.
    said = tuple(
        word for word, last in zip(found, ["", *found], strict=False) if word not in hums or last[:1].isdigit()
    )
    while said and said[0] in _AROUND:
        said = said[1:]
    while said and said[-1] in _AROUND:
        said = said[:-1]
    return said


def as_reckon_error(error: BenchError) -> ReckonError:
    """Faults of the speech tables (a unit of another dimension) are asked like all others."""
    if isinstance(error, ReckonError):
        return error
    return ReckonError(error.what, mend=error.mend, slug=error.slug)


def _unknown() -> ReckonError:
    return ReckonError(
        "That is no question that I can reckon.", mend=f'Ask like: "{EXAMPLES[0]}".', slug="reckon-question"
    )
