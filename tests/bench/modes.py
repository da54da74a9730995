"""Measures the listening modes: how much of what is meant for it is taken, how much talk it acts on.

    .venv/bin/python tests/bench/modes.py            all ears, 20 and 10 dB over a workshop: about ten minutes
    .venv/bin/python tests/bench/modes.py --snr 20
    .venv/bin/python tests/bench/modes.py --noise compressor --snr 10 --modes call-word
    .venv/bin/python tests/bench/modes.py --noise hammer --snr 10 --count 2      two lines and two sentences of talk

Workshop: pink noise and a compressor's hum (`demo/mechanic.py`); `--noise`: one kind of the corpus instead
(`tests/corpus/noises.py`), each line over a stretch of its own, the same for every mode. The ratio is power of what is
speech to power of all noise. With `--count` the lines are taken evenly over the list.

The synthetic mechanic says commands and readings of a step, plain (open) and behind the call word (call-word),
and talk: to a helper, into a phone, to himself, some of it with the words of commands in it. Acted on: an answer that
changes the session or tells something; a "say again?" is counted apart. Push to talk hears nothing while the key is up,
so of talk it acts on none, and what is meant for it is heard as in mode open.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from mechanic import Samples, Workshop, make_mechanic

from bench_voice.audio.endpointer import SileroEndpointer
from bench_voice.commands.listening import make_listener
from bench_voice.config import Config
from bench_voice.core.intents import Expected, Intent, Kind
from bench_voice.ports import Utterance
from bench_voice.session.listen import Listener
from bench_voice.session.modes import CallWord
from bench_voice.session.whole import joined
from bench_voice.sheets.load import load_sheet
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from tests.corpus.noises import NOISES, in_room, padded_length

ROOT = Path(__file__).resolve().parents[2]

MEANT = (
    "next", "go back", "say again", "where are we", "what is left", "strike that", "what is the limit", "stand by",
    "carry on", "one point eight millimetres", "two point four millimetres", "one point six five millimetres",
    "left lining one point nine millimetres", "three point zero millimetres", "correction one point seven millimetres",
    "note the cable is frayed", "do it again", "which words", "louder", "sound check",
)  # fmt: skip
TALK = (
    "Hand me the other spanner, will you?", "No, the next one, the longer one.", "I told him to go back on Tuesday.",
    "What is left of this bracket is not worth keeping.", "It was about two millimetres, maybe three.",
    "Are you coming to lunch or not?", "Where are we going to put this thing?", "He said it again and again.",
    "The phone is ringing, can you get it?", "One point eight, that is what the book says.", "Good, that looks good.",
    "Stop the radio, I cannot hear a thing.", "I will be there next week, around four.", "This nut is stuck, hold on.",
    "Look at that, the whole cable is gone.", "Bad luck, I dropped it under the bench.", "Yes, go on, I am listening.",
    "Turn it left, no, the other left.", "Do it again and I will charge you for it.", "That bench needs a new top.",
    "We have five of them and need two more.", "Can you note down his number for me?", "Louder, I cannot hear you!",
    "Correct me if I am wrong, but that is metric.", "Carry on without me, I have to go.", "Affirmative, over and out.",
)  # fmt: skip
CALL = "bench"
MODES = ("open", "call-word")
SEED = 5


def cut(pcm: bytes) -> Utterance | None:
    """What the speech detector makes of it, as one utterance."""
    endpointer = SileroEndpointer()
    found = [one for at in range(0, len(pcm) - 639, 640) if (one := endpointer.feed(pcm[at : at + 640]))]
    last = endpointer.flush()
    return joined([*found, *([last] if last else [])])


def surroundings(noise: str, snr_db: float) -> Callable[[Samples, int], bytes]:
    """Puts a line into its noise; the number of the line chooses the stretch of the corpus's kinds."""
    if noise == "workshop":
        workshop = Workshop(snr_db=snr_db)
        return lambda speech, number: workshop.around(speech)

    def around(speech: Samples, number: int) -> bytes:
        dice = np.random.default_rng((SEED, number))
        return in_room(speech, NOISES[noise](padded_length(speech), dice), snr_db)

    return around


def some(lines: tuple[str, ...], count: int) -> tuple[str, ...]:
    """So many of them, evenly over the whole."""
    count = min(count, len(lines))
    return tuple(lines[at * len(lines) // count] for at in range(count))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--noise", choices=("workshop", *NOISES), default="workshop")
    parser.add_argument("--snr", type=float, nargs="+", metavar="DB", default=[20.0, 10.0])
    parser.add_argument("--modes", nargs="+", choices=MODES, default=list(MODES))
    parser.add_argument("--count", type=int, default=len(TALK), help="at most so many lines, and sentences of talk")
    options = parser.parse_args()
    if options.count < 1:
        parser.error("--count: at least 1")
    meant, talk = some(MEANT, options.count), some(TALK, options.count)
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}", flush=True)
    sheet, language = load_sheet(ROOT / "demo" / "trailer-hub-brake.yaml"), load_language("en")
    step = next(step for step in sheet.steps if step.id == "left-lining-check")
    expected = Expected.at(sheet, step)
    voice = make_mechanic()
    word = CallWord(CALL)
    now = [0.0]

    def listener(mode: str) -> Listener:
        if mode == "open":
            return make_listener(None, Config(), language)
        return make_listener(
            None,
            Config(),
            language,
            call=lambda: (word.word, True),
            addressed=lambda heard: word.peek(heard, now[0]),
        )

    ears = {mode: listener(mode) for mode in options.modes}

    def meaning(mode: str, utterance: Utterance | None) -> Intent | None:
        if utterance is None:
            return None
        heard = ears[mode].hear(utterance, expected)
        if mode == "call-word":
            now[0] += 100.0  # the attention after the word alone is over
            found = word.take(heard, now[0])
            heard = found.heard if found.is_for_us and not found.is_bare else ()
        return ears[mode].meaning(heard, expected) if heard else None

    for snr_db in options.snr:
        for mode in ears:
            around = surroundings(options.noise, snr_db)  # each mode begins at the same place of it
            right = asked = wrong = acted = again = 0
            for number, line in enumerate(meant):
                said = f"{CALL.capitalize()}, {line}." if mode == "call-word" else f"{line.capitalize()}."
                found = meaning(mode, cut(around(voice.speak(said), number)))
                wanted = understand(line, expected)
                if found is not None and found.meaning() == wanted.meaning():
                    right += 1
                elif found is None or found.kind in (Kind.UNKNOWN, Kind.AMBIGUOUS):
                    asked += 1
                else:
                    wrong += 1
                    print(f"    {mode}, {line!r}: {found.kind} {found.heard!r}")
            for number, line in enumerate(talk, len(meant)):
                found = meaning(mode, cut(around(voice.speak(line), number)))
                if found is None:
                    continue
                if found.kind in (Kind.UNKNOWN, Kind.AMBIGUOUS):
                    again += 1
                else:
                    acted += 1
                    print(f"    {mode}, talk {line!r}: {found.kind} {found.heard!r}")
            print(
                f"{mode}, {options.noise} at {snr_db:g} dB: of {len(meant)} meant for it {right} taken, {asked} not or"
                f" asked back, {wrong} wrong; of {len(talk)} sentences of talk {acted} acted on, {again} answered with"
                " a question",
                flush=True,
            )
    for one in ears.values():
        one.close()


if __name__ == "__main__":
    main()
