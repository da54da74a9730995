"""Questions of the trade on sound: `hear` with all ears, each question in each voice; right, asked or wrong.

    nice -n 5 .venv/bin/python tests/bench/questions.py [--voices neural formant flite] [--out FILE.jsonl]

Workshop noise at 20 dB, no job sheet. Right: accepted, and the words of the right answer are in what is said. Asked:
anything that is not accepted (asked back, or nothing understood). Wrong: accepted with another answer; each answer
repeats what was heard, so that it is noticed. The right answers are those of the same words typed.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "demo"))
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from mechanic import FormantVoice, NeuralVoice, Samples, Workshop, write_wav

from bench_voice.session.meaning import Meanings, said
from bench_voice.sheets.load import load_sheet
from bench_voice.speech.understand import understand

ROOT = Path(__file__).resolve().parents[2]

QUESTIONS = (
    "what is sixty five foot pounds in newton metres",
    "how much is one hundred and ten newton metres in foot pounds",
    "what is two point five bar in p s i",
    "convert thirty six p s i to bar",
    "what is five sixteenths of an inch in millimetres",
    "what is twelve thou in millimetres",
    "what is eighty degrees celsius in fahrenheit",
    "how many litres in two u s gallons",
    "extension twelve inches plus four inches forty foot pounds",
    "what do i set the wrench to for eighty newton metres with a forty centimetre wrench "
    "and a five centimetre extension",
    "forty newton metres plus three newton metres drag",
    "is fifty newton metres too much for m ten eight point eight",
    "what is the torque for m ten class eight point eight",
    "what drill for m eight",
    "stress area of m ten by one point two five",
    "wrench tolerance at twenty five newton metres",
    "tyre date two three zero six",
    "load index fifty eight",
    "battery twelve point three volts",
    "voltage drop of two metres of one point five square millimetre cable at ten amps",
    "mix fifty to one in five litres",
)


class FliteVoice:
    """The system's flite, where it is installed: a third synthesiser."""

    name = "flite slt"

    def speak(self, text: str, *, speed: float = 1.0) -> Samples:
        from mechanic import to_samples

        from bench_voice.audio.wav import WavSource

        with tempfile.NamedTemporaryFile(suffix=".wav") as file:
            subprocess.run(["flite", "-voice", "slt", "-t", text, "-o", file.name], check=True, capture_output=True)
            return to_samples(b"".join(WavSource(Path(file.name)).frames()))


def judged(body: dict[str, Any], wanted: dict[str, str]) -> dict[str, Any]:
    """One clip's result; `ears`: what each wrote, freely where it can."""
    name, _, number = body["id"].rpartition("-")
    words = QUESTIONS[int(number)]
    how = "asked" if not body.get("accepted") else "right" if body["said"] == wanted[words] else "wrong"
    ears = {one["ear"]: one.get("free") or one["heard"] for one in body.get("ears", [])}
    return {"voice": name, "asked": words, "how": how, "said": body.get("said") or body.get("error"), "ears": ears}


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--voices", nargs="+", default=["neural", "formant", "flite"])
    parser.add_argument("--out", default="")
    args = parser.parse_args()
    if "flite" in args.voices and not shutil.which("flite"):
        print("flite is not installed: left out")
        args.voices.remove("flite")
    expected = Meanings(load_sheet).expected(None, None)
    wanted = {words: said(understand(words, expected), expected) for words in QUESTIONS}
    makers = {"neural": NeuralVoice, "formant": FormantVoice, "flite": FliteVoice}
    counts: dict[str, Counter[str]] = {}
    with tempfile.TemporaryDirectory() as folder:
        lines = []
        for name in args.voices:
            voice, shop = makers[name](), Workshop()
            for number, words in enumerate(QUESTIONS):
                path = Path(folder) / f"{name}-{number}.wav"
                write_wav(path, shop.around(np.asarray(voice.speak(words), dtype=np.float32)))
                lines.append({"id": f"{name}-{number}", "wav": str(path)})
        listing = Path(folder) / "list.jsonl"
        listing.write_text("".join(json.dumps(line) + "\n" for line in lines))
        command = [sys.executable, "-m", "bench_voice.cli", "hear", "--explain", "--list", str(listing)]
        out = open(args.out, "w", encoding="utf-8") if args.out else None  # noqa: SIM115 (closed below)
        with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as running:
            for text in running.stdout or ():
                row = judged(json.loads(text), wanted)
                counts.setdefault(row["voice"], Counter())[row["how"]] += 1
                if row["how"] != "right":
                    print(
                        f"{row['voice']}: {row['how']}: {row['asked']}\n    {row['ears']}\n    {row['said']}",
                        flush=True,
                    )
                if out:
                    print(json.dumps(row), file=out, flush=True)
        if out:
            out.close()
    for name, count in counts.items():
        print(f"{name}: {len(QUESTIONS)} questions, {dict(count)}")
    return 0 if counts else 1


if __name__ == "__main__":
    sys.exit(main())
