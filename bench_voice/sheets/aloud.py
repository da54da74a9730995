"""A job as it will be heard, before anybody works by it: every sentence in its order, with the time that it takes.

The sentences come from the same rules and wording as in a session, walked through as if everything went well. What is
not spoken (limits, instruments) stands beside it, so that the writer of a sheet can compare it with the book.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from bench_voice.core import decide as rules
from bench_voice.core import replies
from bench_voice.core.cases import OpenedBy, Opening
from bench_voice.core.events import ItemClosed, ItemOpened, StepOpened
from bench_voice.core.sheet import Finding, JobSheet, Step
from bench_voice.core.state import Phase, Point, State, Taken
from bench_voice.ports import RATE_HZ, SENTENCE_GAP, Voice
from bench_voice.sheets.pages import difference_words, limit_words
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker
from bench_voice.words.wording import worded

# A speaker who is followed while working says about so many words a minute (common practice, no source).
WORDS_A_MINUTE = 150
GAP_S = len(SENTENCE_GAP) / 2 / RATE_HZ  # between two sentences, as in a session


@dataclass(frozen=True)
class Line:
    """One sentence that is spoken, or (`is_spoken` False) a remark for the reader."""

    text: str
    is_spoken: bool = True

    def __str__(self) -> str:
        return self.text if self.is_spoken else f"  ({self.text})"


def lines(sheet: JobSheet) -> Iterator[Line]:
    """The whole job in the order in which it is heard. Steps that are done only if a part was replaced are included."""
    speaker = Speaker(load_language(sheet.language))
    state = State(sheet)

    def said(these: replies.Replies) -> Iterator[Line]:
        return (Line(text) for text in worded(speaker, these))

    greeting = rules.begin(state)[:-1]
    yield from said(replies.after(state, greeting))
    state = rules.fold(state, greeting)
    for step in sheet.steps:
        state = rules.fold(state, (StepOpened(step.id, Opening.NEXT),))
        if step.only_if:
            yield Line(f"only if the part behind {sheet.readings[step.only_if].name} was replaced", False)
        yield from said(replies.step_text(state, step))
        for wanted, remark, after in _answered(state, step):
            yield from said(wanted)
            if remark:
                yield Line(remark, False)
            state = after
        for key in step.opens:
            item = sheet.items[key]
            state = rules.fold(state, (ItemOpened(key, item.name, item.kind, OpenedBy.STEP),))
            yield Line(f"kept in mind: {item.name}", False)
    yield from said(
        (
            replies.reply("signed-off"),
            *(replies.reply("follow-up", text=step.follow_up) for step in sheet.steps if step.follow_up),
        )
    )


def _answered(state: State, step: Step) -> Iterator[tuple[replies.Replies, str, State]]:
    """What the step asks, one thing after the other, each with a remark and the state in which it is answered."""
    while True:
        phase, wanted = state.phase(), replies.prompt(state)
        remark = ""
        if phase is Phase.HOLD and step.hold:
            state = state.with_(confirmed=state.confirmed | {step.hold.id})
        elif phase is Phase.READING:
            reading = state.waits()[0]
            remark = _about(state, reading)
            spec = state.sheet.readings[reading]
            point = Point(0, Decimal(0), spec.unit, Decimal(0))
            # Decided on, so that the figure itself is never judged.
            taken = {**state.taken, (step.id, reading): Taken((point,) * spec.points, decided="walked through")}
            state = state.with_(taken=taken)
        elif phase is Phase.LOOK:
            state = state.with_(looked={**state.looked, (step.id, state.looks_wanted()[0]): (Finding.GOOD, "")})
        elif phase in (Phase.CLOSE, Phase.GATE) and state.closes():
            state = rules.fold(state, (ItemClosed(state.closes()[0], ""),))
        else:
            yield (wanted if phase is Phase.READY else ()), _gate(step), state
            return
        yield wanted, remark, state


def _about(state: State, reading: str) -> str:
    spec = state.sheet.readings[reading]
    parts = [limit_words(spec.limit), *difference_words(spec)]
    if spec.points > 1:
        parts.insert(0, f"{spec.points} points")
    if spec.instrument:
        # A converted figure has up to 28 digits; four are more than anybody knows of an instrument.
        doubt = f", uncertain by {float(spec.uncertainty):.4g} {spec.unit}" if spec.uncertainty else ""
        parts.append(f"with the {spec.instrument}{doubt}")
    return "; ".join(parts)


def _gate(step: Step) -> str:
    return "final gate: names everything that is still open" if step.gate else ""


def closing(sheet: JobSheet, heard_s: float, is_measured: bool) -> str:
    """The last line: how long it takes to hear, and to work where the sheet says so."""
    minutes = sum((step.minutes or Decimal(0) for step in sheet.steps), Decimal(0))
    how = "as spoken" if is_measured else f"at {WORDS_A_MINUTE} words a minute"
    # A step that is one stage of several has its minutes with the last one.
    lacking = sum(1 for step in sheet.steps if not step.minutes and not _is_early_stage(step))
    more = f" at least ({lacking} of the steps do not say)" if lacking else ""
    work = f" The work itself, as the sheet has it: {minutes} minutes{more}." if minutes else ""
    return f"{len(sheet.steps)} steps. To hear: {_clock(heard_s)}, {how}.{work}"


def _is_early_stage(step: Step) -> bool:
    return step.torque is not None and step.torque.number < step.torque.count


def _clock(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 60} min {whole % 60:02d} s"


def read_aloud(
    sheet: JobSheet,
    show: Callable[[str], None],
    voice: Voice | None = None,
    play: Callable[[bytes], object] | None = None,
) -> float:
    """Shows every line, and with a voice gives the sound of each spoken one to `play`. Returns the seconds to hear."""
    heard_s = 0.0
    for line in lines(sheet):
        show(str(line))
        if not line.is_spoken:
            continue
        if voice is None or play is None:
            heard_s += len(line.text.split()) * 60 / WORDS_A_MINUTE
            continue
        pcm = voice.speak(sheet.for_voice(line.text))
        pcm += SENTENCE_GAP
        play(pcm)
        heard_s += len(pcm) / 2 / RATE_HZ
    show(closing(sheet, heard_s, voice is not None and play is not None))
    return heard_s
