"""What no chance may do: ten vetoes at most, each with the harm that it is there for. Pure.

A veto looks at what is about to be done and turns it into less: a record into a question, either into "say again". Each
can be left out for measuring: `python -m tests.corpus table PART --without NAME`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bench_voice.core.intents import VALUES, Intent, Kind, id_of
from bench_voice.hearing.candidates import same
from bench_voice.hearing.decision import Act
from bench_voice.hearing.features import Subject, figures
from bench_voice.hearing.graph import contraries
from bench_voice.hearing.policy import FREE_TEXT, HOLDS, group_of

# A hold's phrase: how far it leads over every other sentence, its contraries among them, in each network; how well it
# fits, on average of a phone and in its worst quarter of a second.
HOLD_LEAD, HOLD_FIT, HOLD_WORST = 4.0, -1.6, -14.0
TWIN_LEAD = 4.0  # of "fifteen" over "fifty"


@dataclass(frozen=True)
class Veto:
    """`harm`: what would happen without it. `forbids`: whether it stops this act on what is known of the meaning;
    `instead`: what is done then."""

    name: str
    harm: str
    forbids: Callable[[Act, Subject], bool]
    instead: Act


def _witnesses(subject: Subject) -> int:
    """Networks in which it is the likeliest, and families of recognisers whose text means it."""
    return sum(one.lead > 0 for one in subject.sentences) + _texts_for(subject)


def _texts_for(subject: Subject) -> int:
    texts = subject.evidence.texts
    return len({text.family for text in texts if same(text.intent, subject.intent)})


def _figure(subject: Subject, name: str) -> float:
    return figures(subject.evidence, subject.intent)[name]


def _is_record(act: Act, subject: Subject, *kinds: Kind) -> bool:
    return act is Act.RECORD and (not kinds or subject.intent.kind in kinds)


def _failed(act: Act, subject: Subject) -> bool:
    return _is_record(act, subject) and subject.evidence.has_failed and group_of(subject.intent) != "harmless"


def _hold_by_one(act: Act, subject: Subject) -> bool:
    asked = subject.sentences
    is_best = all(one.lead > 0 for one in asked)
    return _is_record(act, subject, *HOLDS) and (_witnesses(subject) < 2 or not is_best or not _texts_for(subject))


def _near_contrary(act: Act, subject: Subject) -> bool:
    return _is_record(act, subject, Kind.CONFIRM) and any(one.lead < HOLD_LEAD for one in subject.sentences)


def _unlike(act: Act, subject: Subject) -> bool:
    return _is_record(act, subject, Kind.CONFIRM) and any(
        one.fit < HOLD_FIT or one.worst < HOLD_WORST for one in subject.sentences
    )


def _denied(act: Act, subject: Subject) -> bool:
    """A recogniser wrote a negation or a contrary that the phrase lacks."""
    if not _is_record(act, subject, Kind.CONFIRM):
        return False
    evidence, phrase = subject.evidence, subject.words
    turned = set(contraries(phrase, evidence.language))
    against = {word for text in turned for word in text.split()} | evidence.language.denials
    against -= set(phrase.split())
    beginnings = {text.split()[0] for text in turned}
    return any(set(text.words.split()) & (against - beginnings) for text in evidence.texts)


def _offered(act: Act, subject: Subject) -> bool:
    return act is Act.ASK and subject.intent.kind in HOLDS


def _value_by_one(act: Act, subject: Subject) -> bool:
    return _is_record(act, subject, *VALUES) and _witnesses(subject) < 2


def _implausible(act: Act, subject: Subject) -> bool:
    return _is_record(act, subject, *VALUES) and _figure(subject, "plausible") == 0 and _texts_for(subject) < 2


def _eight_by_telephone(act: Act, subject: Subject) -> bool:
    return _is_record(act, subject, *VALUES) and _figure(subject, "telephone") > 1


def _twin(act: Act, subject: Subject) -> bool:
    is_clear = _texts_for(subject) > 1 or (
        _texts_for(subject) and all(one.lead > TWIN_LEAD for one in subject.sentences)
    )
    return _is_record(act, subject, *VALUES) and _figure(subject, "twin") > 0 and not is_clear


VETOES = (
    Veto("failed", "half a witness' evidence taken for all of it", _failed, Act.AGAIN),
    Veto("hold-by-one", "a hold passed, or a question answered, by one witness' mistake", _hold_by_one, Act.AGAIN),
    Veto("hold-near-contrary", '"was locked" passes "is locked"', _near_contrary, Act.AGAIN),
    Veto("hold-unlike", "a sentence of the radio passes a hold", _unlike, Act.AGAIN),
    Veto("hold-denied", "a negation that a recogniser wrote is missed by the networks", _denied, Act.AGAIN),
    Veto("hold-offered", '"affirm" passes a hold that nobody confirmed', _offered, Act.AGAIN),
    Veto("value-by-one", "a number that one witness made up is recorded", _value_by_one, Act.ASK),
    Veto("implausible", "a figure ten times too large is recorded", _implausible, Act.ASK),
    Veto("eight-by-telephone", 'a "six" without its hiss is recorded as "eight"', _eight_by_telephone, Act.ASK),
    Veto("twin", '"fifteen" is recorded as "fifty"', _twin, Act.ASK),
)


def stopped(act: Act, subject: Subject, without: frozenset[str] = frozenset()) -> Veto | None:
    """The first veto that forbids it."""
    if subject.intent.kind in FREE_TEXT and id_of(subject.intent) is None:
        return None
    return next((veto for veto in VETOES if veto.name not in without and veto.forbids(act, subject)), None)


__all__ = ["VETOES", "Intent", "Veto", "stopped"]
