"""Teaches the phone networks of `bench_voice.audio.phone_net`. Needs what the corpus needs.

python -m tests.phones say --seed 7                  sentences to build/phones, 0.2 s of a processor each
python -m tests.phones teach whisper                 the network for this ear's encoder; writes audio/phones-whisper.npz
python -m tests.phones teach moonshine
python -m tests.phones say eights --seed 2           words for telling "eight" from "six" without its hiss
python -m tests.phones teach eights                  writes audio/eights.npz
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.corpus import voices

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / "build" / "phones"


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.phones")
    parser.add_argument("do", choices=("say", "teach"))
    parser.add_argument("ear", nargs="?", choices=("whisper", "moonshine", "eights"), default="whisper")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--count", type=int, default=6000)
    parser.add_argument("--epochs", type=int, default=10)
    given = parser.parse_args()
    KEPT.mkdir(parents=True, exist_ok=True)
    if given.do == "say":
        from tests.phones import sayings, sixes

        if lacks := voices.missing():
            print("\n".join(lacks), file=sys.stderr)
            return 2
        if given.ear == "eights":
            sixes.keep(given.seed, given.count, KEPT)
        else:
            sayings.keep(given.seed, given.count, KEPT)
        return 0
    from tests.phones import teach

    if given.ear == "eights":
        from tests.phones import sixes

        if not (files := sorted(KEPT.glob("eights-*.pkl"))):
            print("There are no words yet: python -m tests.phones say eights", file=sys.stderr)
            return 2
        teach.write(ROOT / "bench_voice" / "audio" / "eights.npz", sixes.teach(files))
        return 0
    files = sorted(set(KEPT.glob("*.pkl")) - set(KEPT.glob("eights-*.pkl")))
    if not files:
        print("There are no sayings yet: python -m tests.phones say", file=sys.stderr)
        return 2
    weights = teach.teach(given.ear, files, given.epochs)
    teach.write(ROOT / "bench_voice" / "audio" / f"phones-{given.ear}.npz", weights)
    return 0


if __name__ == "__main__":
    sys.exit(main())
