"""Words for the cases that events tell apart. Each value stands so in journals: never change one, only add."""

from __future__ import annotations

from enum import StrEnum


class Opening(StrEnum):
    """How a step became the step."""

    START = "start"
    NEXT = "next"
    BACK = "back"
    REDO = "redo"


class Hindrance(StrEnum):
    """Why the step cannot be left."""

    HOLD = "hold"
    READING = "reading"  # wanted
    FAILED = "failed"  # a reading that is not good and not decided on
    LOOK = "look"  # wanted
    BAD_LOOK = "bad-look"
    BEFORE = "before"  # something of a step before is open again
    REQUIRES_NOW = "requires-now"  # an item that this step requires off is on, or the other way round
    REQUIRES = "requires"  # the same of the step that comes
    CLOSE = "close"  # an entry of the register that this step asks about
    GATE_ITEM = "gate-item"
    GATE_READING = "gate-reading"
    GATE_LOOK = "gate-look"
    GATE_HOLD = "gate-hold"


class Open(StrEnum):
    """What keeps a job from being signed off."""

    ITEM = "item"
    READING = "reading"
    LOOK = "look"
    HOLD = "hold"

    @property
    def at_gate(self) -> Hindrance:
        return Hindrance(f"gate-{self.value}")


class Lapse(StrEnum):
    """Why a read-back passed nothing."""

    NEGATIVE = "negative"
    OTHER = "other"  # something else was said
    SILENCE = "silence"
    RESTART = "restart"


class Reopening(StrEnum):
    """Why a confirmed hold is asked again."""

    BACK = "back"
    RESTART = "restart"
    UNDO = "undo"


class Answer(StrEnum):
    """How a question was closed."""

    AFFIRM = "affirm"
    NEGATIVE = "negative"
    OTHER = "other"  # overtaken by another request
    RESTART = "restart"


class Again(StrEnum):
    """Why a reading is asked for again."""

    MEASURE = "measure-again"
    REPLACED = "replaced"  # its part: the next values are as left


class Stage(StrEnum):
    """Whether a value was measured before or after a part was replaced."""

    AS_FOUND = "as-found"
    AS_LEFT = "as-left"


class OpenedBy(StrEnum):
    """Who opened an entry of the register."""

    STEP = "step"
    VOICE = "voice"
    EARLIER = "earlier"  # another session left it open
    REDO = "redo"


class Basis(StrEnum):
    """Of a decision: which of the figures that it was made on."""

    VALUE = "value"
    LIMIT = "limit"
    PAIR = "pair"  # the other side


class Changed(StrEnum):
    """What the person changed, and undo withdraws."""

    READING = "reading"
    MEASURE_AGAIN = "measure-again"
    REPLACED = "replaced"
    DECISION = "decision"
    LOOK = "look"
    HOLD = "hold"
    ITEM = "item"
    NOTE = "note"
    TIMER = "timer"
    REDO = "redo"


class Refusal(StrEnum):
    """Why what was asked for makes no sense here. Each has its sentence, "no-…", in grammars/<language>/wording.yaml;
    after HOLD_FIRST and CHOICES the person hears what the step wants."""

    HOLD_FIRST = "hold-first"
    CHOICES = "choices"
    ENDED = "ended"
    FIRST_STEP = "first-step"
    CONFIRMED_ALREADY = "confirmed-already"
    OTHER_HOLD = "other-hold"
    HOLD_ACTED_UPON = "hold-acted-upon"
    NO_READING_WANTED = "no-reading-wanted"
    TAKEN_ALREADY = "taken-already"
    OTHER_READING = "other-reading"
    MARKING_FIRST = "marking-first"
    NO_ROW = "no-row"
    NOTHING_TO_CORRECT = "nothing-to-correct"
    NOTHING_FAILED = "nothing-failed"
    NOT_FAILED = "not-failed"
    NO_REASON = "no-reason"
    NO_LOOK_WANTED = "no-look-wanted"
    NO_JUDGEMENT = "no-judgement"
    NOTHING_TO_UNDO = "nothing-to-undo"
    NOTHING_ASKED = "nothing-asked"
    NO_TIME = "no-time"
    NO_WORDS = "no-words"
    MUST_BE_NEW = "must-be-new"
    OPEN_ALREADY = "open-already"
    NOT_OPEN = "not-open"


class Ending(StrEnum):
    """How a session ended for good."""

    SIGNED_OFF = "signed-off"
    STOPPED = "stopped"
