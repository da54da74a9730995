"""What somebody asks, and what the step is ready to hear. Imperative; nothing here has happened yet.

`Intent` is a closed union of shapes: kinds that carry the same fields share one. `kind` tells the shapes apart, so a
type checker narrows `intent.kind is Kind.QUERY` as it does `isinstance`. As one row of fields for all kinds, which
journals and JSON have, an intent stands in `core.flat`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Literal, get_args

from bench_voice.core.history import Earlier, Series
from bench_voice.core.sheet import Finding, Hold, JobSheet, Step


class Kind(StrEnum):
    """Kinds of intent: the fixed words of the README, and three of our own (`replace`, `judged`, `done`).

    The five from `louder` to `sound-check` change how it speaks and listens, never the session.
    """

    READING = "reading"
    CONFIRM = "confirm"
    AFFIRM = "affirm"
    NEGATIVE = "negative"
    NEXT = "next"
    BACK = "back"
    REPEAT = "repeat"
    WHERE = "where"
    LEFT = "left"
    CORRECTION = "correction"
    UNDO = "undo"
    NOTE = "note"
    REMINDER = "reminder"
    FITTED = "fitted"
    TAKEN_OFF = "taken-off"
    REMOVED = "removed"
    PUT_BACK = "put-back"
    REDO = "redo"
    JUDGEMENT = "judgement"
    TIMER = "timer"
    MARK = "mark"
    STAND_BY = "stand-by"
    CARRY_ON = "carry-on"
    HELP = "help"
    STOP = "stop"
    LOUDER = "louder"
    QUIETER = "quieter"
    FASTER = "faster"
    SLOWER = "slower"
    SOUND_CHECK = "sound-check"
    QUERY = "query"
    REPLACE = "replace"  # a failed part is being replaced: its new reading is asked for
    DONE = "done"  # a reminder is done: "done, " and its words
    JUDGED = "judged"  # a failed or borderline reading was decided on by somebody competent, with a reason
    AMBIGUOUS = "ambiguous"  # asked back
    UNKNOWN = "unknown"  # nothing: talk, noise, a near miss


CommandKind = Literal[
    Kind.AFFIRM, Kind.NEGATIVE, Kind.NEXT, Kind.BACK, Kind.REPEAT, Kind.WHERE, Kind.LEFT, Kind.UNDO, Kind.REDO,
    Kind.MARK, Kind.STAND_BY, Kind.CARRY_ON, Kind.HELP, Kind.STOP,
]  # fmt: skip
SettingKind = Literal[Kind.LOUDER, Kind.QUIETER, Kind.FASTER, Kind.SLOWER, Kind.SOUND_CHECK]
ValueKind = Literal[Kind.READING, Kind.CORRECTION]
ItemKinds = Literal[Kind.FITTED, Kind.TAKEN_OFF, Kind.REMOVED, Kind.PUT_BACK, Kind.REMINDER, Kind.DONE]
RemarkKind = Literal[Kind.NOTE, Kind.JUDGED]

COMMANDS: tuple[CommandKind, ...] = get_args(CommandKind)
# How it speaks and listens.
SETTINGS: tuple[SettingKind, ...] = get_args(SettingKind)
VALUES = frozenset(get_args(ValueKind))
# What is said of an item: "took off gear cover".
ITEM_KINDS = (Kind.FITTED, Kind.TAKEN_OFF, Kind.REMOVED, Kind.PUT_BACK)


class Asks(StrEnum):
    """What an ambiguous utterance is asked back about; each has its sentence in grammars/<language>/wording.yaml."""

    WHICH_NUMBER = "which-number"  # "one ten": options hold the candidates
    CONFIRM_NUMBER = "confirm-number"  # a hedge: "about four point six"; option 0 is offered
    WHICH_NAME = "which-name"
    WHICH_UNIT = "which-unit"
    WRONG_UNIT = "wrong-unit"  # unit of another dimension; `detail` holds the unit said
    HOW_MANY_POINTS = "how-many-points"
    IMPLAUSIBLE = "implausible"  # outside of what this part can be: option 0 is offered
    NO_NUMBER = "no-number"  # a name without a number
    RETAKEN = "retaken"  # another value of a reading that is taken: a slip, a new part, or measured again
    QUESTION = "question"  # a question that cannot be answered as it stands; `detail` says why and how to ask it


class Topic(StrEnum):
    """What a question is about that is answered from the sheet and the session."""

    LIMIT = "limit"
    READING = "reading"
    STEP = "step"


CONVERSION, WEAR = "conversion", "wear"  # topics of what is reckoned

Meaning = tuple[object, ...]


@dataclass(frozen=True, kw_only=True)
class _Heard:
    """`heard`: the words, lower case. `confidence`: 0 to 1, None where words were given."""

    heard: str = ""
    confidence: float | None = None


@dataclass(frozen=True)
class Command(_Heard):
    """A fixed phrase that says everything: "next"."""

    kind: CommandKind

    def meaning(self) -> Meaning:
        return (self.kind,)


@dataclass(frozen=True)
class Setting(_Heard):
    """How it speaks and listens. `is_at_end`: it goes no further, or there is no microphone to check."""

    kind: SettingKind
    is_at_end: bool = False

    def meaning(self) -> Meaning:
        return (self.kind,)


@dataclass(frozen=True)
class Measurement(_Heard):
    """A value of a reading, new or in place of the one before; or several points in one breath.

    `name`: the reading's id; None means the one asked for, of a correction the one recorded last. `value`: as said,
    digits kept; None where several points were said, or the word "correction" alone. `unit`: pint spelling.
    `in_limit_unit`: the value in its reading's unit, exact (division rounded at 28 digits). `values`: the points in the
    order said.
    """

    kind: ValueKind
    name: str | None = None
    value: Decimal | None = None
    unit: str | None = None
    in_limit_unit: Decimal | None = None
    values: tuple[Decimal, ...] = ()
    values_in_limit_unit: tuple[Decimal, ...] = ()

    def meaning(self) -> Meaning:
        value = None if self.value is None else str(self.value)
        return (self.kind, self.name, value, self.unit, tuple(map(str, self.values)))


@dataclass(frozen=True)
class Confirmation(_Heard):
    """The whole phrase of a hold, by the hold's id."""

    hold: str | None
    kind: Literal[Kind.CONFIRM] = field(default=Kind.CONFIRM, init=False)

    def meaning(self) -> Meaning:
        return (self.kind, self.hold)


@dataclass(frozen=True)
class Replacement(_Heard):
    """The part behind a failed reading is replaced. `name`: the reading's id; None means all that failed here."""

    name: str | None = None
    kind: Literal[Kind.REPLACE] = field(default=Kind.REPLACE, init=False)

    def meaning(self) -> Meaning:
        return (self.kind, self.name)


@dataclass(frozen=True)
class ItemChange(_Heard):
    """A verb and an entry of the register. `name`: the item's id, None for one of the person's own; `text`: its name as
    heard."""

    kind: ItemKinds
    name: str | None = None
    text: str = ""

    def meaning(self) -> Meaning:
        return (self.kind, self.name, self.text)


@dataclass(frozen=True)
class Remark(_Heard):
    """Free words: a note, or the reason why a value that is not good is accepted."""

    kind: RemarkKind
    text: str = ""

    def meaning(self) -> Meaning:
        return (self.kind, self.text)


@dataclass(frozen=True)
class Judgement(_Heard):
    """What was found at an inspection. `name`: the look's id, None for the one asked for; `note`: what was added."""

    name: str | None = None
    finding: Finding | None = None
    note: str = ""
    kind: Literal[Kind.JUDGEMENT] = field(default=Kind.JUDGEMENT, init=False)

    def meaning(self) -> Meaning:
        return (self.kind, self.name, self.finding)


@dataclass(frozen=True)
class Timer(_Heard):
    """`value` in `unit`: "s", "min" or "h". `text`: what it is for."""

    value: Decimal
    unit: str
    text: str = ""
    kind: Literal[Kind.TIMER] = field(default=Kind.TIMER, init=False)

    def meaning(self) -> Meaning:
        return (self.kind, str(self.value), self.unit, self.text)


@dataclass(frozen=True)
class Query(_Heard):
    """A question about the step, or about a reading or its limit. `name`: the reading's id, None for the step's."""

    topic: Topic
    name: str | None = None
    kind: Literal[Kind.QUERY] = field(default=Kind.QUERY, init=False)

    def meaning(self) -> Meaning:
        return (self.kind, self.topic, self.name)


@dataclass(frozen=True)
class Conversion(_Heard):
    """ "What is one bar in p s i": `value` in `unit` as asked, and the `answer` in `target`, as it is said."""

    value: Decimal
    unit: str
    target: str
    answer: Decimal
    kind: Literal[Kind.QUERY] = field(default=Kind.QUERY, init=False)

    def meaning(self) -> Meaning:
        return (self.kind, CONVERSION, str(self.value), self.unit)


@dataclass(frozen=True)
class Calculation(_Heard):
    """A question that arithmetic answers. `topic`: the answer's kind; `sentence`: what answers it.

    `value`, `unit`: the first figure of the answer. Of "wear": the distance or hour that is asked about, if one is, and
    `name` is the reading's id; an empty sentence says that nothing is known of it yet.
    """

    topic: str
    sentence: str = ""
    name: str | None = None
    value: Decimal | None = None
    unit: str | None = None
    kind: Literal[Kind.QUERY] = field(default=Kind.QUERY, init=False)

    def meaning(self) -> Meaning:
        value = None if self.value is None else str(self.value)
        return (self.kind, self.topic, self.name, value, self.unit)


@dataclass(frozen=True)
class Question(_Heard):
    """What must be asked back before anything is taken.

    `options`: what it may mean; `options[0]` is what *affirm* takes when `is_offer`. `name`, `unit`, `text`: the
    reading's id, unit, or words that all options share. `is_about_correction`: the answer corrects a value that was
    taken. `detail`: the unit said, the count of points, the spoken name, or why a question cannot be answered.
    """

    asks: Asks
    name: str | None = None
    options: tuple[Intent, ...] = ()
    is_offer: bool = False
    unit: str | None = None
    text: str = ""
    is_about_correction: bool = False
    detail: str = ""
    kind: Literal[Kind.AMBIGUOUS] = field(default=Kind.AMBIGUOUS, init=False)

    @property
    def offered(self) -> Intent | None:
        """What *affirm* would take, if anything is offered."""
        return self.options[0] if self.is_offer and self.options else None

    def meaning(self) -> Meaning:
        return (self.kind, self.name, self.unit, self.text, self.is_about_correction)


@dataclass(frozen=True)
class Unknown(_Heard):
    """Talk, noise, a near miss."""

    kind: Literal[Kind.UNKNOWN] = field(default=Kind.UNKNOWN, init=False)

    def meaning(self) -> Meaning:
        return (self.kind,)


# `meaning()` is what two ears must share to agree: the kind and what is taken of it. 4.60 and 4.6 differ.
Intent = (
    Command | Setting | Measurement | Confirmation | Replacement | ItemChange | Remark | Judgement | Timer
    | Query | Conversion | Calculation | Question | Unknown
)  # fmt: skip

_BARE: Mapping[Kind, Intent] = {
    **{kind: Command(kind) for kind in COMMANDS},
    **{kind: Setting(kind) for kind in SETTINGS},
    Kind.REPLACE: Replacement(),
    Kind.CORRECTION: Measurement(Kind.CORRECTION),
}


def bare(kind: Kind) -> Intent:
    """What a fixed phrase means that stands alone: "next", "louder", "correction". KeyError for any other kind."""
    return _BARE[kind]


def id_of(intent: Intent) -> str | None:
    """The id from the sheet that it names: of a reading, hold, look or item."""
    if isinstance(intent, Confirmation):
        return intent.hold
    if isinstance(intent, Measurement | Replacement | ItemChange | Judgement | Query | Calculation | Question):
        return intent.name
    return None


def unit_of(intent: Intent) -> str | None:
    """The unit of what was said, in pint's spelling."""
    return intent.unit if isinstance(intent, Measurement | Timer | Conversion | Calculation | Question) else None


def words_of(intent: Intent) -> str:
    """The free words in it: of a note, a reason, an item, what a timer is for; "" where there are none."""
    return intent.text if isinstance(intent, ItemChange | Remark | Timer | Question) else ""


def values_of(intent: Intent) -> tuple[Decimal, ...]:
    """The figures that were said: of a reading, a timer, a question of arithmetic."""
    if isinstance(intent, Measurement) and intent.values:
        return intent.values
    if isinstance(intent, Measurement | Timer | Conversion | Calculation) and intent.value is not None:
        return (intent.value,)
    return ()


def options_of(intent: Intent) -> tuple[Intent, ...]:
    """What a question may mean; nothing of any other intent."""
    return intent.options if isinstance(intent, Question) else ()


@dataclass(frozen=True)
class Expected:
    """What the session is ready to hear: the sheet, the step, and what is open in it.

    `waits`: ids of readings still wanted at this step, the one asked for first. `points_wanted`: points still wanted of
    each of `waits`. `hold`: the hold whose phrase counts now.
    `looks`: ids of judgements still wanted. `correctable`: ids of readings already recorded in this session (a
    correction may name them). Of a question that is open: `corrects`, the reading whose correction it asks about (a
    number is that), and `choices`, what it offers by name. `retakes`: ids of readings that are taken already at this
    step; the first is what a number without a name is about where none is waited for.
    """

    sheet: JobSheet
    step: Step
    waits: tuple[str, ...] = ()
    points_wanted: tuple[int, ...] = ()
    hold: Hold | None = None
    looks: tuple[str, ...] = ()
    correctable: tuple[str, ...] = ()
    last_reading: str | None = None
    asked_for: str | None = None  # the reading that was asked for by name: a number without a name answers that
    has_failed: bool = False  # a reading of this step is out of limits or borderline and not decided on
    wear: tuple[Series, ...] = ()  # the machine's earlier readings and today's: "how long will it last?"
    earlier: Earlier = field(default_factory=Earlier)  # "what was it last time?", "when was the oil changed?"
    corrects: str | None = None
    choices: tuple[Intent, ...] = ()
    retakes: tuple[str, ...] = ()

    @property
    def points_left(self) -> int:
        """Points still wanted of the reading that is asked for first."""
        return self.points_wanted[0] if self.points_wanted else 1

    def wanted_of(self, reading: str) -> int:
        """Points still wanted of it; all of them where it is not waited for."""
        if reading in self.waits:
            return self.points_wanted[self.waits.index(reading)]
        spec = self.sheet.readings.get(reading)
        return spec.points if spec is not None else 1

    @staticmethod
    def at(sheet: JobSheet, step: Step) -> Expected:
        """As if the step had just been read out: used by `understand` and `hear`, which have no session."""
        return Expected(
            sheet=sheet,
            step=step,
            waits=step.readings,
            points_wanted=tuple(sheet.readings[reading].points for reading in step.readings),
            hold=step.hold,
            looks=step.looks,
            correctable=tuple(sheet.readings),
            last_reading=step.readings[0] if step.readings else None,
            asked_for=step.readings[0] if len(step.readings) == 1 else None,
        )
