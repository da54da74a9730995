"""Hours of sound that is nobody's command, cut by the endpointer as in a session, heard and decided at changing steps.

*babble*: five voices at once without a pause. *radio*: one voice after another, talk of every outside kind with short
pauses, over a quiet room. *tools*: a minute each of hammer, ratchet, compressor and hum. A minute is made again from
its number; no sentence of it is meant for the assistant.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Iterable
from itertools import cycle
from pathlib import Path
from typing import Any

import numpy as np

from bench_voice.audio.resample import Samples, to_s16
from bench_voice.core.intents import Kind
from bench_voice.hearing.agree import Act, agree
from tests.corpus import clips, cut, noises, texts, voices
from tests.corpus.listen import Hearer, heard_of, plain, read

KINDS = ("babble", "radio", "tools")
BLOCK_S = 60
_PART = "report"
_TOOLS = ("hammer", "ratchet", "compressor", "hum")
_RADIO_DB = 30.0


def block(kind: str, number: int) -> bytes:
    """One minute: 16 kHz, mono, s16le."""
    dice = np.random.default_rng([KINDS.index(kind), number])
    n = BLOCK_S * noises.RATE
    if kind == "tools":
        return to_s16(noises.NOISES[_TOOLS[number % len(_TOOLS)]](n, dice) * noises.LEVEL)
    if kind == "babble":
        return to_s16(noises.babble(clips.crowd(_PART), n, dice) * noises.LEVEL)
    return to_s16(_radio(n, number) + noises.pink(n, dice) * (noises.LEVEL * 10 ** (-_RADIO_DB / 20)))


def _radio(n: int, number: int) -> Samples:
    dice = random.Random(number)
    sentences = [text for kind, text in texts.outside(_PART) if kind != "own"]
    speakers = [voice for voice in voices.VOICES[_PART] if voice.family != "robotic"]
    sound = np.zeros(n, np.float32)
    at = 0
    while at < n:
        one = voices.speak(dice.choice(speakers), dice.choice(sentences), dice.uniform(0.9, 1.15), dice.randrange(1000))
        one = one * (noises.LEVEL / noises.speech_level(one))
        sound[at : at + len(one)] += one[: n - at]
        at += len(one) + int(dice.choice((0.15, 0.3, 0.7, 1.2)) * noises.RATE)
    return sound


def steps() -> list[tuple[str, str]]:
    """Every step of the part's sheets, holds among them."""
    return [(name, step.id) for name in texts.SHEETS[_PART] for step in texts.sheet_of(name).steps]


def listen(kind: str, minutes: Iterable[int], path: Path) -> None:
    """Appends a line a minute; goes on where the file ends. Each utterance is heard at the next step."""
    done = {line["number"] for line in read(path)}
    hearer = Hearer()
    at_step = steps()
    with path.open("a", encoding="utf-8") as out:
        for number in minutes:
            if number in done:
                continue
            turn = number % len(at_step)
            steps_now = [*at_step[turn:], *at_step[:turn]]
            found = cut.utterances(block(kind, number), hearer, cycle(texts.expected_of(*one) for one in steps_now))
            pieces = []
            for (sheet, step), (one, _, heard) in zip(cycle(steps_now), found, strict=False):
                pieces.append({"sheet": sheet, "step": step, "speech_s": round(one.speech_s, 3),
                               "heard": [plain(h) for h in heard]})  # fmt: skip
            out.write(json.dumps({"number": number, "kind": kind, "pieces": pieces}) + "\n")
            out.flush()


def show(lines: Iterable[dict[str, Any]]) -> None:
    """By kind: minutes, utterances, what was done with them, and what was taken an hour."""
    minutes: Counter[str] = Counter()
    acts: dict[str, Counter[str]] = {}
    taken: list[str] = []
    for line in lines:
        kind = line["kind"]
        minutes[kind] += 1
        count = acts.setdefault(kind, Counter())
        for piece in line["pieces"]:
            expected = texts.expected_of(piece["sheet"], piece["step"])
            decision = agree(expected, heard_of(piece), texts.LANGUAGE)
            count[decision.kind.value] += 1
            if decision.kind is Act.RECORD and decision.intent is not None:
                if decision.intent.kind is Kind.CONFIRM:
                    count["PASSED"] += 1
                words = [one["free_words"] or one["words"] for one in piece["heard"][:3]]
                taken.append(f"{kind} minute {line['number']}, step {piece['step']}: {decision.intent.kind} {words}")
    for kind, count in acts.items():
        hours = minutes[kind] / 60
        print(
            f"{kind:7} {hours:.2f} h, {sum(count[a.value] for a in Act)} utterances: nothing {count['nothing']}, "
            f"say again {count['again']}, asked {count['ask']}, acted on {count['record']} "
            f"({count['record'] / hours:.2f} an hour), holds passed {count['PASSED']}"
        )
    print("\n".join(taken))
