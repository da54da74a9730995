"""Makes the corpus of sounds again, hears it, fits the evidence model, and prints the tables.

    python -m tests.corpus hear develop [--count 400] [--share 0/2]   clips to evidence, goes on where it stopped
    python -m tests.corpus hear calibrate
    python -m tests.corpus hear report [--start 10700]
    python -m tests.corpus stream radio --count 60 [--start 60]   an hour of babble, radio or tools, heard and judged
    python -m tests.corpus fit                 the model from develop and calibrate; writes hearing/model.json
    python -m tests.corpus grow                the trees of the search's chances; writes hearing/trees.json
    python -m tests.corpus table PART          what would have happened, by kind, voices and noise
    python -m tests.corpus table PART --worst  and every clip that went wrong
    python -m tests.corpus table PART --without VETO     the search alone without one of its vetoes
    python -m tests.corpus hear PART --contraries   what is nearest to hold phrases, in noise; `table` shows it as well
    python -m tests.corpus hear PART --rooms        what is said some way off the microphone; `table` shows it as well

Needs flite, festival and hibari-tts (it says which are missing) and about 1.5 s of a processor a clip. The evidence is
kept in build/corpus; decisions are made from it anew each time. Nothing is ever chosen by the report part.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.corpus import clips, stream, tables, voices
from tests.corpus.listen import listen, read

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / "build" / "corpus"
WHOLE = {"report": 600}  # so many first clips get every look: the other ways of deciding are compared on them
TREES = ROOT / "bench_voice" / "hearing" / "trees.json"
MODEL = ROOT / "bench_voice" / "hearing" / "model.json"


def lines(part: str) -> Iterator[dict[str, Any]]:
    """Every clip of the part that has been heard, once."""
    seen: set[int] = set()
    for path in sorted(KEPT.glob(f"{part}*.jsonl")):
        for line in read(path):
            if line["number"] not in seen:
                seen.add(line["number"])
                yield line


def _chosen(given: argparse.Namespace, numbers: frozenset[int]) -> Iterator[clips.Clip]:
    """Of those numbers, what is of the kinds, noises and ratio that are named."""
    made = clips.contraries if given.contraries else clips.across_the_room if given.rooms else clips.clips
    kinds, noises = (list(filter(None, named.split(","))) for named in (given.kinds, given.noises))
    for clip in made(given.part, given.start + given.count):
        is_kind = not kinds or clip.said.kind in kinds
        is_room = (not noises or clip.noise in noises) and given.ratio in (None, clip.snr_db)
        if clip.number in numbers and is_kind and is_room:
            yield clip


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.corpus")
    parser.add_argument("do", choices=("hear", "fit", "grow", "table", "stream"))
    parser.add_argument("part", nargs="?", choices=("develop", "calibrate", "report", *stream.KINDS), default="develop")
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument(
        "--start", type=int, default=0, help="the first clip's or minute's number: a release hears those not heard yet"
    )
    parser.add_argument("--whole", type=int, help="how many of them get every look (report: 600, the other parts: all)")
    parser.add_argument("--share", default="0/1", help="which share of the clips this process hears: 0/2 and 1/2")
    parser.add_argument("--kinds", default="", help="only clips of these: reading,digits")
    parser.add_argument("--noises", default="", help="only clips in these: babble,pink")
    parser.add_argument("--ratio", type=float, help="only clips whose noise is so many dB below the voice: 20")
    parser.add_argument("--no-sound-check", action="store_true", help="as a session that began without one")
    parser.add_argument("--contraries", action="store_true", help="what is nearest to hold phrases, in noise, instead")
    parser.add_argument("--rooms", action="store_true", help="what is said some way off the microphone, instead")
    parser.add_argument("--worst", action="store_true")
    parser.add_argument("--without", default="", help="a veto of the search that is left out")
    given = parser.parse_args()
    KEPT.mkdir(parents=True, exist_ok=True)
    name = f"contraries-{given.part}" if given.contraries else f"rooms-{given.part}" if given.rooms else given.part
    if given.do in ("hear", "stream"):
        lacks = voices.missing()
        if lacks:
            print("\n".join(lacks), file=sys.stderr)
            return 2
        first, every = (int(number) for number in given.share.split("/"))
        path = KEPT / (f"{name}-{first}.jsonl" if every > 1 else f"{name}.jsonl")
        mine = [at for at in range(given.start, given.start + given.count) if at % every == first]
        if given.do == "hear":
            whole = given.start + (WHOLE.get(given.part, given.count) if given.whole is None else given.whole)
            listen(given.part, _chosen(given, frozenset(mine)), path, whole, not given.no_sound_check)
        else:
            stream.listen(given.part, mine, path)
            stream.show(lines(given.part))
    elif given.do == "fit":
        from bench_voice.hearing.figures import FORMS
        from tests.corpus import fit, thresholds

        known = [*lines("develop"), *lines("calibrate")]
        forms = {}
        for name in FORMS:
            forms[name], found = fit.fitted(known, name)
            print(f"{name}: {fit.reliability(found)}")
        fit.write(MODEL, forms, thresholds.RECORD, thresholds.ASK)
    elif given.do == "grow":
        from tests.corpus.grow import grow

        lists = [f"{kind}{part}" for part in ("develop", "calibrate") for kind in ("", "rooms-", "contraries-")]
        print(grow((line for name in lists for line in lines(name)), TREES))
    elif given.part in stream.KINDS:
        stream.show(lines(given.part))
    else:
        tables.show(list(lines(name)), given.worst, frozenset(filter(None, [given.without])))
    return 0


if __name__ == "__main__":
    sys.exit(main())
