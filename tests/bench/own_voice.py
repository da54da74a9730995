"""Measures: the assistant's own voice comes back into the microphone; how much of it is taken for the person's words.

    .venv/bin/python tests/bench/own_voice.py                 30 minutes of prompts at -20, -10 and 0 dB each
    .venv/bin/python tests/bench/own_voice.py --minutes 1
    .venv/bin/python tests/bench/own_voice.py --bare          without the policy: what the ears alone would take

The live loop with its real voice, speech detector and ears, on a simulated card whose clock runs as fast as it can:
what is played comes back 0.15 s later. It stands at a hold, so a hold phrase that got through would count. Said is
every sentence of wording.yaml with names, figures and every hold phrase of the trailer's sheet, and the whole job as it
is read out.
"""

from __future__ import annotations

import argparse
import itertools
import string
import sys
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "session"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from live_fakes import LiveRig, SimCard

from bench_voice.audio import factory
from bench_voice.audio.ears import Ears
from bench_voice.audio.endpointer import SileroEndpointer
from bench_voice.core.intents import Intent
from bench_voice.core.replies import Quantity
from bench_voice.core.sheet import JobSheet
from bench_voice.phonetics import spoken
from bench_voice.sheets import aloud
from bench_voice.sheets.load import load_sheet
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker
from bench_voice.words.wording import capitals

ROOT = Path(__file__).resolve().parents[2]

SHEET = ROOT / "demo" / "trailer-hub-brake.yaml"
LEVELS_DB = (-20.0, -10.0, 0.0)
_BY_PHRASE = {"phrase", "what", "offer"}  # fields that hold what would matter: every one of them is said


def every_phrase(sheet: JobSheet) -> list[str]:
    """What it can say with this sheet, each sentence once."""
    language = load_language("en")
    speaker = Speaker(language)
    names = [*(r.name for r in sheet.readings.values()), *(k.name for k in sheet.looks.values())]
    names += [item.name for item in sheet.items.values()]
    phrases = [step.hold.phrase for step in sheet.steps if step.hold] or ["confirm all is safe now"]
    figures = [Quantity(Decimal(text), "mm") for text in ("1.8", "4.60", "12", "0.4")]
    numbers = [Decimal(one) for one in (1, 2, 3, 12)]
    samples: dict[str, list[Any]] = {
        "phrase": phrases,
        "what": [phrase.removeprefix("confirm ") for phrase in phrases],
        "offer": [*figures, *phrases],
        "names": [tuple(names[:2]), tuple(names[:3])],
        "quantity": figures, "margin": figures, "answer": figures, "asked": figures, "low": figures, "high": figures,
        "sheet": figures, "unit": figures, "first": figures, "others": [tuple(figures[:2])],
        "number": numbers, "points": numbers, "count": numbers, "steps": numbers, "total": numbers,
        "say": [step.say for step in sheet.steps],
        "title": [sheet.title], "machine": [sheet.machine],
    }  # fmt: skip
    found: list[str] = []
    for key, template in language.wording.items():
        fields = [name for _, name, _, _ in string.Formatter().parse(template) if name]
        columns = [samples.get(name, names) for name in fields]
        count = max((len(samples[name]) for name in fields if name in _BY_PHRASE), default=1)
        for turn in range(count):
            values = {name: column[turn % len(column)] for name, column in zip(fields, columns, strict=True)}
            found.append(capitals(speaker.render(key, **values)))
    found += [line.text for line in aloud.lines(sheet) if line.is_spoken]
    return list(dict.fromkeys(found))


def fed_back(
    echo_db: float, minutes: float, said: Iterator[str], *, is_bare: bool = False
) -> tuple[int, int, list[str]]:
    """(sentences said, utterances that reached the ears, what was taken: kind and words)."""
    sheet = load_sheet(SHEET)
    language = load_language("en")
    rig = LiveRig(
        [],
        card=SimCard(echo_db=echo_db, room=0.001),
        voice=factory.make_voice(),  # type: ignore[arg-type]  # no fake voice here
        endpointer=SileroEndpointer(),
        make_ears=lambda: Ears(factory.make_ears(None, language, ways=spoken)),
        job=sheet,
        is_echo_free=is_bare,
    )
    taken: list[str] = []
    take = rig.owner.take

    def noted(intent: Intent, sound: bytes = b"") -> None:
        taken.append(f"{intent.kind}: {intent.heard}")
        take(intent, sound)

    rig.owner.take = noted  # type: ignore[method-assign]  # a spy
    count = 0

    def next_one() -> None:
        nonlocal count
        if not rig.mouth.is_busy and rig.card.quiet_s > 1.0:
            count += 1
            rig.mouth.say((next(said),))
            # With a headset its voice would be taken for the person's and stop it; here it shall go on.
            rig.live._barge_frames = -100_000
        rig.card.at[round(rig.card.now_s / 0.02) + 10] = next_one

    rig.card.at[10] = next_one
    rig.run(60 * minutes)
    heard = rig.turns.count("talk") + len(taken)
    rig.live._w.ears.close()
    rig.close()
    return count, heard, taken


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=30.0, help="of simulated time, at each level")
    parser.add_argument("--bare", action="store_true", help="without the half-duplex policy")
    options = parser.parse_args()
    phrases = every_phrase(load_sheet(SHEET))
    print(f"{len(phrases)} different sentences", flush=True)
    said = itertools.cycle(phrases)
    total = 0
    for level_db in LEVELS_DB:
        count, heard, taken = fed_back(level_db, options.minutes, said, is_bare=options.bare)
        accepted = [one for one in taken if not one.startswith("unknown")]
        total += len(accepted)
        print(
            f"{level_db:+.0f} dB: {options.minutes:g} min, {count} sentences, {heard} utterances reached the ears,"
            f" {len(taken) - len(accepted)} not understood, {len(accepted)} accepted"
        )
        for one in accepted:
            print(f"    {one}")
    print(f"accepted in all: {total}")


if __name__ == "__main__":
    main()
