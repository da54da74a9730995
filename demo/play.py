"""Plays the whole service with a synthetic mechanic, on real sound, and checks the journal against the script.

Every utterance is synthesised, mixed with workshop noise and fed to `bench-voice work` as a microphone would feed it.
The mechanic knows what each line is meant to do, says it again (at most twice) when it was not taken, and answers the
assistant's questions by comparing what is offered with what was meant. What was meant is never told to the assistant.

Exit code 0: the journal holds exactly what the script meant; 1: it does not; 2: the demo could not be played.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from conversation import Conversation
from driver import Bench, ChildEndedError, Line, NotReadyError
from journal import events_of, newest
from mechanic import Workshop, make_mechanic
from script import NOT_TAKEN, Event, Script, Turn, Want, differences, load, shown

from bench_voice.ports import RATE_HZ

HERE = Path(__file__).resolve().parent
ROOM_BYTES = round(1.2 * RATE_HZ) * 2  # of each utterance's end: Workshop.around
TRIES = 3  # said once, and at most twice again
SPEEDS = (1.0, 0.9, 0.95)  # said again, people speak slower
ANSWER_S = 2.5  # wait for an answer after the last sound; then the room goes on
MORE_ROOM_S = 0.6
ROUNDS = 6  # stretches of room noise fed while waiting; then it was not heard

# What an offer would become, by the kind of intent that it is.
OFFER_EVENTS = {
    "reading": "ReadingRecorded",
    "correction": "ReadingCorrected",
    "confirm": "HoldPhraseHeard",
    "judgement": "LookJudged",
    "fitted": "ItemOpened",
    "removed": "ItemOpened",
    "reminder": "ItemOpened",
    "taken-off": "ItemClosed",
    "put-back": "ItemClosed",
    "replace": "ReadingReopened",
    "note": "NoteTaken",
    "next": "StepDone",
}
OFFER_FIELDS = {"reading": "name", "hold": "name", "look": "name", "key": "name", "value": "value", "unit": "unit"}


class PlayError(Exception):
    """The demo cannot go on; the text says why."""


@dataclass
class Player:
    """Plays one script. `journals`: the folder the sessions write to."""

    script: Script
    out: Path
    talk: Conversation
    is_mute: bool = False
    n_again: int = 0
    n_asked: int = 0

    def __post_init__(self) -> None:
        self.mechanic = make_mechanic()
        self.workshop = Workshop()
        self.journals = self.out / "journal"
        self.n_processes = 0
        self.seen = 0

    def play(self) -> int:
        """All turns; returns the last process' exit code."""
        self._start(new=True)
        n_turns = len(self.script.turns)
        code: int | None = None
        for number, turn in enumerate(self.script.turns, 1):
            if code is not None:
                raise PlayError(f"The session ended with exit code {code} before turn {number}.")
            self.talk.progress(f"turn {number} of {n_turns}" + (f": {turn.shows}" if turn.shows else ""))
            if turn.kill:
                self._kill_and_resume(turn)
            else:
                code = self._perform(number, turn)
        if code is None:
            lines, code = self.bench.close()
            self._hear(lines)
        return code

    def _start(self, *, new: bool) -> None:
        self.n_processes += 1
        self.say_to = self.out / f"assistant-{self.n_processes}.wav"
        self.bench = Bench(self.script.sheet, self.journals, say_to=None if self.is_mute else self.say_to, new=new)
        self._hear(self.bench.start())

    def _kill_and_resume(self, turn: Turn) -> None:
        """SIGKILL in mid job, then the same command again: the session must come back at the same step."""
        before = self._step()
        self.bench.kill()
        self.talk.progress("SIGKILL: the process is gone; the same command again")
        self._start(new=False)
        self._expect(turn.wants, self._new_events())
        if self._step() != before:
            raise PlayError(f"The session was killed at step {before} and came back at step {self._step()}.")

    def _perform(self, number: int, turn: Turn) -> int | None:
        """Says the turn until what it means is in the journal; returns the exit code if the session ended by it."""
        met: list[Event] = []
        for attempt in range(TRIES):
            if attempt:
                self.n_again += 1
            code = self._speak(turn.say, SPEEDS[attempt])
            fresh = self._new_events()
            met += fresh
            for _ in range(3):  # a read-back or a question after the answer to one
                answer = self._answer(turn, fresh)
                if not answer or code is not None:
                    break
                fresh = []
                for speed in SPEEDS:  # where nothing comes back, the answer is said again
                    code = self._speak(answer, speed)
                    fresh = self._new_events()
                    met += fresh
                    if fresh or code is not None:
                        break
                    self.n_again += 1
            if not self._missing(turn.wants, met):
                return code
            if code is not None:
                break
        self._expect(turn.wants, met)
        return code

    def _answer(self, turn: Turn, fresh: list[Event]) -> str:
        """What a person answers to what was just asked, or "" where nothing was."""
        for event in reversed(fresh):
            if event["event"] == "HoldPhraseHeard":
                meant = any(
                    want.event == "HoldConfirmed" and dict(want.fields)["hold"] == event["hold"] for want in turn.wants
                )
                return "affirm" if meant else "negative"
            if event["event"] == "StopAsked":
                return "affirm" if any(want.event == "JobStopped" for want in turn.wants) else "negative"
            if event["event"] == "Asked":
                self.n_asked += 1
                question = event["question"]
                if not question.get("is_offer") or not question.get("options"):
                    return ""  # which of several: the whole line is said again
                return "affirm" if self._is_meant(question["options"][0], turn.wants) else "negative"
        return ""

    @staticmethod
    def _is_meant(offer: Event, wants: tuple[Want, ...]) -> bool:
        """Whether the offered intent is what the turn is for, as far as the script tells it."""
        for want in wants:
            meant = dict(want.fields)
            if want.event != OFFER_EVENTS.get(str(offer["kind"])) and not (
                want.event == "HoldConfirmed" and offer["kind"] == "confirm"
            ):
                continue
            pairs = [(meant[mine], offer.get(theirs)) for mine, theirs in OFFER_FIELDS.items() if mine in meant]
            if all(theirs is None or str(theirs) == mine for mine, theirs in pairs):
                return True
        return False

    def _speak(self, words: str, speed: float) -> int | None:
        """One utterance into the microphone; returns the exit code if the process ended by it."""
        pcm = self.workshop.around(self.mechanic.speak(_spoken(words), speed=speed))
        self.talk.mechanic(words, pcm)
        try:
            lines, is_ready = self.bench.say(pcm, ANSWER_S, room_bytes=ROOM_BYTES)
            self._hear(lines)
            for _ in range(ROUNDS):
                if is_ready:
                    return None
                lines, is_ready = self.bench.say(self.workshop.room(MORE_ROOM_S), ANSWER_S)
                self._hear(lines)
        except ChildEndedError as end:
            self._hear(end.lines)
            if end.code not in (0, 10):
                raise PlayError(str(end)) from end
            return end.code
        return None

    def _hear(self, lines: list[Line]) -> None:
        for line in lines:
            self.talk.line(line)
        self.talk.bench_sound(self.say_to)

    def _new_events(self) -> list[Event]:
        events: list[Event] = [*events_of(newest(self.journals))]
        fresh, self.seen = events[self.seen :], len(events)
        return fresh

    def _step(self) -> str:
        steps = [e["step"] for e in events_of(newest(self.journals)) if e["event"] == "StepOpened"]
        return str(steps[-1]) if steps else ""

    @staticmethod
    def _missing(wants: tuple[Want, ...], events: list[Event]) -> list[Want]:
        return [
            want
            for want in wants
            if not any(want.is_met_by(event) for event in events) and not (want.event == NOT_TAKEN and not events)
        ]

    def _expect(self, wants: tuple[Want, ...], events: list[Event]) -> None:
        missing = self._missing(wants, events)
        if missing:
            held = "; ".join(shown(event) for event in events) or "nothing"
            raise PlayError(f"Meant: {'; '.join(map(str, missing))}. The journal got: {held}.")


def _spoken(words: str) -> str:
    """As a sentence for the synthesiser: a capital and a full stop give it an end."""
    return words[:1].upper() + words[1:] + "."


def records(out: Path, journal: Path) -> None:
    """The record for people (HTML) and for programs (JSON), by the same command that a user gives."""
    for form in ("html", "json"):
        command = [sys.executable, "-m", "bench_voice.cli", "record", str(journal), "--as", form]
        subprocess.run([*command, "--out", str(out / f"record.{form}")], check=True)
    subprocess.run([sys.executable, "-m", "bench_voice.cli", "verify", str(journal)], check=True)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--script", type=Path, default=HERE / "scripts" / "service.yaml")
    parser.add_argument("--out", type=Path, default=HERE / "out", help="emptied first; default: demo/out")
    parser.add_argument("--mute", action="store_true", help="without the assistant's sound, for trying things out")
    options = parser.parse_args()
    begun = time.monotonic()
    shutil.rmtree(options.out, ignore_errors=True)
    options.out.mkdir(parents=True)
    script = load(options.script)
    player = Player(script, options.out, Conversation(), options.mute)
    print(f"The mechanic's voice: {player.mechanic.name}; workshop noise at 20 dB.", flush=True)
    failed = ""
    code = -1
    try:
        code = player.play()
    except (PlayError, NotReadyError, ChildEndedError) as error:
        failed = str(error)
    finally:
        player.talk.save(options.out)
    wrong = [failed] if failed else []
    journal = newest(player.journals)
    if journal is not None:
        wrong += differences(script, events_of(journal))
        if not failed:
            records(options.out, journal)
    if not failed and code != 0:
        wrong.append(f"The session was not signed off: exit code {code}.")
    took = time.monotonic() - begun
    print(
        f"\n{len(script.turns)} turns in {took:.0f} s, {player.talk.seconds / 60:.1f} minutes of sound; said again:"
        f" {player.n_again}, questions answered: {player.n_asked}. Everything is in {options.out}.",
    )
    for sentence in wrong:
        print(f"DIFFERENT: {sentence}")
    print("The journal is not what the script meant." if wrong else "The journal holds exactly what the script meant.")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
