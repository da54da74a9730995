"""What became true, past tense. A session is the fold of these; each is one line of the journal.

Events carry ids, numbers, cases (`core.cases`) and the words that were heard, never spoken
wording. `EVENT_TYPES` is the whole list: the journal's codec and the tests read it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from bench_voice.core.cases import (
    Again,
    Answer,
    Basis,
    Changed,
    Hindrance,
    Lapse,
    OpenedBy,
    Opening,
    Refusal,
    Reopening,
    Stage,
)
from bench_voice.core.history import Earlier, Series
from bench_voice.core.intents import Intent, Kind, Question
from bench_voice.core.sheet import Finding, ItemKind
from bench_voice.core.verdict import Verdict


@dataclass(frozen=True)
class SessionStarted:
    """First event of a session; the sheet stands in the journal's header."""

    sheet: str
    machine: str


@dataclass(frozen=True)
class Carried:
    """A value that stood in an earlier session of the same job: kept to be read, never counted as measured here."""

    step: str
    reading: str
    point: int
    value: Decimal
    unit: str
    stage: Stage


@dataclass(frozen=True)
class ReadingsCarried:
    """The sheet was changed and the job was started anew: what the earlier session (`journal`) had measured."""

    journal: str
    readings: tuple[Carried, ...]


@dataclass(frozen=True)
class InstrumentUse:
    """What a reading is measured with. U (k = 2) is the larger of `absolute`, in the limit's unit, and `percent` of the
    value.
    """

    reading: str
    instrument: str
    absolute: Decimal = Decimal(0)
    percent: Decimal = Decimal(0)

    def uncertainty(self, value: Decimal) -> Decimal:
        """U of `value`, in the limit's unit."""
        return max(self.absolute, abs(value) * self.percent / 100)


@dataclass(frozen=True)
class Overdue:
    """An instrument whose calibration ran out `days` ago."""

    instrument: str
    days: int


@dataclass(frozen=True)
class InstrumentsTaken:
    """The person's own instruments as they stood when the session began: its verdicts stay these, whatever becomes of
    the file. `missing`: instruments that the sheet names and the person's file does not have.
    """

    uses: tuple[InstrumentUse, ...] = ()
    overdue: tuple[Overdue, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class HistoryTaken:
    """What the logbook had of this machine and sheet when the session began, for "how long will it last?"."""

    series: tuple[Series, ...]


@dataclass(frozen=True)
class SessionDetails:
    """What a record says beside the work: who did it, the machine's marks, its distance or hours where they were given
    at the start, and the time zone by its name ("Europe/Oslo"). Each may be empty.
    """

    who: str = ""
    marks: str = ""
    zone: str = ""
    at: Decimal | None = None
    at_unit: str = ""


@dataclass(frozen=True)
class EarlierTaken:
    """What the logbook had of this machine when the session began."""

    earlier: Earlier


@dataclass(frozen=True)
class SessionResumed:
    """The session was interrupted (process ended) and came back at its step. `torn_bytes`: of what was being written
    when it ended, which was never accepted and is set aside; None where nothing was.
    """

    gap_ms: int
    sheet_changed: bool = False
    torn_bytes: int | None = None


@dataclass(frozen=True)
class StepOpened:
    """`step` is now the step."""

    step: str
    how: Opening


@dataclass(frozen=True)
class StepDone:
    """The step was left forward with everything it asked for answered."""

    step: str


@dataclass(frozen=True)
class StepPassedOver:
    """The step's condition did not hold."""

    step: str


@dataclass(frozen=True)
class StepRedone:
    """What these steps had recorded is superseded; their holds and items are open again."""

    steps: tuple[str, ...]
    items: tuple[str, ...] = ()


@dataclass(frozen=True)
class NextRefused:
    """The step was not left. `what`: the id that stands in the way."""

    step: str
    why: Hindrance
    what: str = ""


@dataclass(frozen=True)
class HoldPhraseHeard:
    """The hold's own phrase was heard whole; it was read back and waits for affirm. Nothing is passed yet."""

    hold: str
    heard: str


@dataclass(frozen=True)
class HoldConfirmed:
    """The read-back was affirmed: the hold is passed."""

    hold: str
    heard: str


@dataclass(frozen=True)
class HoldLapsed:
    """The read-back was not affirmed; the hold is as it was."""

    hold: str
    why: Lapse


@dataclass(frozen=True)
class HoldReopened:
    """A confirmed hold is asked again."""

    hold: str
    why: Reopening


@dataclass(frozen=True)
class ReadingRecorded:
    """A value was accepted for one point."""

    step: str
    reading: str
    point: int
    value: Decimal
    unit: str
    in_limit_unit: Decimal
    heard: str
    stage: Stage
    verdict: Verdict
    confidence: float | None = None


@dataclass(frozen=True)
class ReadingCorrected:
    """A later value stands in place of an earlier one; the earlier event stays in the journal."""

    step: str
    reading: str
    point: int
    was: Decimal
    value: Decimal
    unit: str
    in_limit_unit: Decimal
    heard: str
    stage: Stage
    verdict: Verdict
    confidence: float | None = None


@dataclass(frozen=True)
class ReadingReopened:
    """The reading is asked for again."""

    step: str
    reading: str
    why: Again


@dataclass(frozen=True)
class ReadingDecided:
    """A borderline or failed reading, or a doubtful look, was judged by somebody competent, with a reason."""

    step: str
    what: str
    reason: str


@dataclass(frozen=True)
class DecisionReopened:
    """A figure that the decision was made on is another one now: it counts no more. `why`: which."""

    step: str
    what: str
    why: Basis


@dataclass(frozen=True)
class LookJudged:
    step: str
    look: str
    judgement: Finding
    note: str
    heard: str


@dataclass(frozen=True)
class ItemOpened:
    """An entry of the register. `key` names it for good."""

    key: str
    name: str
    kind: ItemKind
    by: OpenedBy
    heard: str = ""


@dataclass(frozen=True)
class ItemClosed:
    key: str
    heard: str


@dataclass(frozen=True)
class NoteTaken:
    step: str
    text: str


@dataclass(frozen=True)
class MarkSet:
    """ "mark": this moment is marked in the record."""

    step: str


@dataclass(frozen=True)
class TimerSet:
    key: str
    seconds: int
    due_ms: int
    text: str


@dataclass(frozen=True)
class TimerDue:
    key: str


@dataclass(frozen=True)
class Asked:
    """The person was asked back. *affirm* takes the offer."""

    question: Question


@dataclass(frozen=True)
class AskedAgain:
    """An open question was answered by something that is no answer; it stands and is asked again."""

    heard: str


@dataclass(frozen=True)
class QuestionClosed:
    """The open question was answered or overtaken."""

    how: Answer


@dataclass(frozen=True)
class Told:
    """Something was read out again or answered; changes nothing."""

    topic: Kind
    intent: Intent | None = None


@dataclass(frozen=True)
class Refused:
    """What was asked for makes no sense here. `what`: an id or words."""

    kind: Kind
    why: Refusal
    what: str = ""


@dataclass(frozen=True)
class NotUnderstood:
    heard: str


@dataclass(frozen=True)
class StoodBy:
    pass


@dataclass(frozen=True)
class CarriedOn:
    pass


@dataclass(frozen=True)
class Undone:
    """The person's last change is withdrawn. `seq`: sequence number of the event that is withdrawn."""

    seq: int
    what: Changed


@dataclass(frozen=True)
class StopAsked:
    """ "stop the job" was heard; waits for affirm."""


@dataclass(frozen=True)
class JobStopped:
    """The job ends unfinished: the machine is not to be used."""

    step: str
    open_keys: tuple[str, ...]


@dataclass(frozen=True)
class SignedOff:
    """Every reading is good or decided on, every register entry is closed."""


Event = (
    SessionStarted | SessionDetails | ReadingsCarried | InstrumentsTaken | HistoryTaken | EarlierTaken | SessionResumed
    | StepOpened | StepDone | StepPassedOver | StepRedone
    | NextRefused | HoldPhraseHeard | HoldConfirmed | HoldLapsed | HoldReopened
    | ReadingRecorded | ReadingCorrected | ReadingReopened | ReadingDecided | DecisionReopened | LookJudged
    | ItemOpened | ItemClosed | NoteTaken | MarkSet | TimerSet | TimerDue
    | Asked | AskedAgain | QuestionClosed | Told | Refused | NotUnderstood | StoodBy | CarriedOn | Undone
    | StopAsked | JobStopped | SignedOff
)  # fmt: skip

Events = tuple[Event, ...]

EVENT_TYPES: dict[str, type] = {cls.__name__: cls for cls in Event.__args__}
