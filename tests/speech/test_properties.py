"""Properties of `understand` over random sheets' worth of talk."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_voice.core.flat import Flat, flat_of, intent_of
from bench_voice.core.intents import (
    Confirmation,
    Conversion,
    Expected,
    Intent,
    Judgement,
    Kind,
    Measurement,
    Question,
    Remark,
    Timer,
    options_of,
)
from bench_voice.core.sheet import Finding
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker
from bench_voice.words.text import words
from bench_voice.words.units import DIMENSIONS, same_dimension
from tests.speech.bench import HOLD, ITEMS, LOOKS, OTHER_HOLD, PLACES, READINGS, at

LANGUAGE = load_language("en")
SPEAKER = Speaker(LANGUAGE)
MANY = settings(max_examples=400, deadline=None)

measured = [place for place, ids in PLACES.items() if ids]
decimals = st.builds(
    lambda digits, places: Decimal(digits).scaleb(-places), st.integers(0, 99_999), st.integers(0, 4)
).map(lambda value: Decimal(format(value, "f")))


@st.composite
def reading_intents(draw: st.DrawFn) -> tuple[Measurement, Expected]:
    expected = at(draw(st.sampled_from(measured)))
    spec = READINGS[draw(st.sampled_from(expected.waits))]
    unit = draw(st.sampled_from([unit for unit in DIMENSIONS if same_dimension(unit, spec.unit)]))
    return Measurement(Kind.READING, name=spec.id, value=draw(decimals), unit=unit), expected


def accepted_or_offered(intent: Intent) -> Intent | None:
    """An implausible value is offered, not taken: the same meaning after *affirm*."""
    return intent.offered if isinstance(intent, Question) and intent.asks == "implausible" else intent


@MANY
@given(reading_intents())
def test_a_reading_said_is_the_reading(case: tuple[Measurement, Expected]) -> None:
    intent, expected = case
    heard = accepted_or_offered(understand(SPEAKER.intent_words(intent, expected), expected))
    assert heard is not None
    assert heard.meaning() == intent.meaning()


@MANY
@given(reading_intents())
def test_a_correction_said_is_the_correction(case: tuple[Measurement, Expected]) -> None:
    intent, expected = replace(case[0], kind=Kind.CORRECTION), case[1]
    heard = accepted_or_offered(understand(SPEAKER.intent_words(intent, expected), expected))
    assert heard is not None
    assert heard.meaning() == intent.meaning()


@MANY
@given(st.lists(st.integers(10, 400).map(lambda n: Decimal(n) / 10), min_size=2, max_size=4))
def test_several_points_said_are_the_points(values: list[Decimal]) -> None:
    expected = at("pad")
    values = [value.quantize(Decimal("0.1")) for value in values]
    intent = Measurement(Kind.READING, name="pad", unit="mm", values=tuple(values))
    assert understand(SPEAKER.intent_words(intent, expected), expected).meaning() == intent.meaning()


@pytest.mark.parametrize("code", ["en", "de"])
@pytest.mark.parametrize("kind", [kind for kind in Kind if kind in LANGUAGE.commands])
def test_a_command_said_is_the_command(kind: Kind, code: str) -> None:
    expected, language = at("failed"), load_language(code)
    assert understand(Speaker(language).intent_words(intent_of(Flat(kind)), expected), expected, language).kind is kind
    for phrase in language.commands[kind]:
        assert understand(phrase, expected, language).kind is kind, phrase


def others() -> list[tuple[str, Intent]]:
    told = [(kind, "the seal weeps") for kind in (Kind.NOTE, Kind.REMINDER)]
    found = [("lining", intent_of(Flat(kind, text=text))) for kind, text in told]
    found += [("failed", Remark(Kind.JUDGED, text="good for one more season"))]
    for kind in (Kind.FITTED, Kind.TAKEN_OFF, Kind.REMOVED, Kind.PUT_BACK):
        found += [("lining", intent_of(Flat(kind, name=item.id, text=item.name))) for item in ITEMS.values()]
        found.append(("lining", intent_of(Flat(kind, text="tape on the cable"))))
    found += [("look", Judgement(name=look, finding=Finding(word))) for look in LOOKS for word in LANGUAGE.judgements]
    found += [("lining", Timer(value=Decimal("2.5"), unit=unit)) for unit in ("s", "min", "h")]
    found.append(("lining", Timer(value=Decimal(10), unit="min", text="sealant")))
    found += [("lining", intent_of(Flat(Kind.QUERY, text=topic))) for topic in ("limit", "step", "reading")]
    found += [
        ("lining", intent_of(Flat(Kind.QUERY, text=topic, name=r))) for topic in ("limit", "reading") for r in READINGS
    ]
    found.append(("lining", Conversion(Decimal(65), "lbf*ft", "N*m", Decimal("88.1"))))
    found += [("hold", Confirmation(hold=HOLD.id)), ("other-hold", Confirmation(hold=OTHER_HOLD.id))]
    return found


@pytest.mark.parametrize(("place", "intent"), others(), ids=lambda part: getattr(part, "kind", part))
def test_anything_else_said_is_itself(place: str, intent: Intent) -> None:
    expected = at(place)
    heard = understand(SPEAKER.intent_words(intent, expected), expected)
    assert (heard.meaning(), flat_of(heard).detail) == (intent.meaning(), flat_of(intent).detail)


vocabulary = sorted(
    {
        *LANGUAGE.vocabulary(),
        *words(HOLD.phrase),
        *words(OTHER_HOLD.phrase),
        *(word for reading in READINGS.values() for word in words(reading.name)),
        *(word for phrase in (*LANGUAGE.fillers, *LANGUAGE.hedges, *LANGUAGE.vague) for word in phrase),
        *LANGUAGE.question_starts,
        ",",
        "?",
        "4.6",
        "12",
    }
)
word_salad = st.lists(st.sampled_from(vocabulary), max_size=14).map(" ".join)
any_text = st.one_of(st.text(max_size=80), word_salad)


@MANY
@given(any_text, st.sampled_from(sorted(PLACES)))
def test_any_text_never_raises_and_confirms_only_its_phrase(text: str, place: str) -> None:
    expected = at(place)
    intent = understand(text, expected)
    if isinstance(intent, Confirmation):
        assert expected.hold is not None
        assert words(text) == words(expected.hold.phrase)
        assert flat_of(intent).name == expected.hold.id
    for option in options_of(intent):
        assert option.kind not in (Kind.CONFIRM, Kind.AMBIGUOUS, Kind.UNKNOWN)


hold_words = words(HOLD.phrase)


@MANY
@given(st.data())
def test_no_near_miss_of_a_hold_phrase_passes(data: st.DataObject) -> None:
    """One word dropped, doubled, swapped, replaced or added, anywhere."""
    near = list(hold_words)
    place = data.draw(st.integers(0, len(near) - 1))
    change = data.draw(st.sampled_from(["drop", "double", "swap", "replace", "add"]))
    other = data.draw(st.sampled_from([w for w in vocabulary if w not in (",", "?", ".")]))
    if change == "drop":
        del near[place]
    elif change == "double":
        near.insert(place, near[place])
    elif change == "swap":
        near[place], near[place - 1] = near[place - 1], near[place]
    elif change == "replace":
        near[place] = other
    else:
        near.insert(place, other)
    intent = understand(" ".join(near), at("hold"))
    assert (intent.kind is Kind.CONFIRM) == (tuple(near) == hold_words)


number_words = set(LANGUAGE.number_words)
unit_words = {word for phrase in (*LANGUAGE.units, *LANGUAGE.ambiguous_units) for word in phrase}
chatter_words = st.one_of(
    st.sampled_from(
        [word for word in vocabulary if word not in number_words | unit_words | {"correction", "4.6", "12"}]
    ),
    st.text("abcdefghijklmnopqrstuvwxyz", min_size=1, max_size=8).filter(
        lambda word: word not in number_words | unit_words
    ),
)
chatter = st.lists(chatter_words, max_size=4).map(" ".join)


@MANY
@given(reading_intents(), chatter, chatter)
def test_chatter_round_a_reading_never_makes_another_number(
    case: tuple[Measurement, Expected], before: str, after: str
) -> None:
    intent, expected = case
    said = SPEAKER.intent_words(intent, expected)
    heard = understand(f"{before} {said} {after}", expected)
    for found in (heard, *options_of(heard)):
        if found.kind in (Kind.READING, Kind.CORRECTION):
            assert (flat_of(found).value, flat_of(found).unit, flat_of(found).values) == (
                flat_of(intent).value,
                flat_of(intent).unit,
                (),
            ), heard


@MANY
@given(word_salad, st.sampled_from(measured))
def test_a_number_is_recorded_only_with_all_of_its_words(text: str, place: str) -> None:
    """A reading's words, once more without one of its number words, is never the same reading plus nothing."""
    expected = at(place)
    intent = understand(text, expected)
    if intent.kind is Kind.READING and intent.value is not None:
        again = understand(SPEAKER.intent_words(intent, expected), expected)
        assert (accepted_or_offered(again) or again).meaning() == intent.meaning()


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "word " * 10_000,
        "four " * 10_000,
        "confirm " * 10_000,
        "?" * 30_000,
        "\x00\x07",
        "note " + "x " * 10_000,
    ],
)
def test_long_and_empty_text(text: str) -> None:
    for place in PLACES:
        kind = understand(text, at(place)).kind
        assert kind is (Kind.NOTE if text.startswith("note") and len(text) <= 20_000 else Kind.UNKNOWN)
