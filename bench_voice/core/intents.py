"""What somebody asks, and what the step is ready to hear. Imperative; nothing here has happened yet."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from bench_voice.core.history import Earlier, Series
from bench_voice.core.sheet import Hold, JobSheet, Step


class Kind(StrEnum):
    """Kinds of intent: the fixed words of the README, and three of our own (`replace`, `judged`, `done`).

    The five from `louder` to `sound-check` change how it speaks and listens, never the session; `detail` "end" says
    that it goes no further (or that there is no microphone to check).
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


VALUES = frozenset((Kind.READING, Kind.CORRECTION))
# What is said of an item: "took off gear cover".
ITEM_KINDS = (Kind.FITTED, Kind.TAKEN_OFF, Kind.REMOVED, Kind.PUT_BACK)
# How it speaks and listens.
SETTINGS = (Kind.LOUDER, Kind.QUIETER, Kind.FASTER, Kind.SLOWER, Kind.SOUND_CHECK)


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
    QUESTION = "question"  # a question that cannot be answered as it stands; `detail` says why and how to ask it


@dataclass(frozen=True)
class Intent:
    """One meaning. Which fields are set depends on `kind`; the rest are None or empty.

    `name`: id from the sheet (reading, look, hold or item). `value`: as said, digits kept. `unit`: pint spelling.
    `in_limit_unit`: the value in its reading's unit, exact (division rounded at 28 digits).
    `values`, `values_in_limit_unit`: several points in one breath; `value` is then None.
    `text`: note, reminder, free item name, judgement word, reason, query topic: as heard, lower case.
    `asks`, `options`, `detail`: only for AMBIGUOUS. `options[0]` is what *affirm* takes when `is_offer`; `text` is
    "correction" where the question is about one.
    CORRECTION: a reading intent's fields; `name` None means the reading recorded last.
    TIMER: `value` in `unit` ("s", "min", "h"). QUERY: `text` is its topic; "conversion": `value` and `unit` as asked,
    `detail` the unit wanted, `in_limit_unit` the answer as it is said; "wear": `value` and `unit` of the distance or
    hour that is asked about, if one is, `detail` the sentence that answers it; reckoned otherwise: `text` is the
    answer's kind, `value` and `unit` its first figure, `detail` the sentence that answers it.
    """

    kind: Kind
    name: str | None = None
    value: Decimal | None = None
    unit: str | None = None
    in_limit_unit: Decimal | None = None
    values: tuple[Decimal, ...] = ()
    values_in_limit_unit: tuple[Decimal, ...] = ()
    text: str = ""
    heard: str = ""
    asks: Asks | None = None
    options: tuple[Intent, ...] = ()
    is_offer: bool = False
    detail: str = ""
    confidence: float | None = None

    @property
    def offered(self) -> Intent | None:
        """What *affirm* would take, if anything is offered."""
        return self.options[0] if self.is_offer and self.options else None

    @property
    def is_about_correction(self) -> bool:
        """A question of which the answer corrects a value that was taken."""
        return self.kind is Kind.AMBIGUOUS and self.text == Kind.CORRECTION.value

    def meaning(self) -> tuple[object, ...]:
        """What two ears must share to agree: everything but the words and the confidence. 4.60 and 4.6 differ."""
        value = None if self.value is None else str(self.value)
        return (self.kind, self.name, value, self.unit, tuple(map(str, self.values)), self.text)


@dataclass(frozen=True)
class Expected:
    """What the session is ready to hear: the sheet, the step, and what is open in it.

    `waits`: ids of readings still wanted at this step, the one asked for first. `points_wanted`: points still wanted of
    each of `waits`. `hold`: the hold whose phrase counts now.
    `looks`: ids of judgements still wanted. `correctable`: ids of readings already recorded in this session (a
    correction may name them). Of a question that is open: `corrects`, the reading whose correction it asks about (a
    number is that), and `choices`, what it offers by name.
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
