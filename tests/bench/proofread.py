"""How long proofreading takes, by the number of steps: `python tests/bench/proofread.py`.

Prints the best of three (processor time) for 50, 100, 200 and 400 steps. Ends with 1 when 400 steps take more than
2 s, or when the time a step takes grows by more than half from 100 to 400 steps.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "sheets"))

from generated import sheet

from bench_voice.sheets import check_text


def seconds(text: str) -> float:
    best = 1e9
    for _ in range(3):
        start = time.process_time()
        faults = check_text(text, "generated.yaml")
        best = min(best, time.process_time() - start)
        assert not faults, faults[0]
    return best


def main() -> int:
    start = time.process_time()
    check_text(sheet(4), "generated.yaml")
    print(f"first sheet, with reading the pronouncing dictionary: {time.process_time() - start:.2f} s")
    a_step: dict[int, float] = {}
    for n_steps in (50, 100, 200, 400):
        took = seconds(sheet(n_steps))
        a_step[n_steps] = took / n_steps
        print(f"{n_steps:4d} steps: {took:.3f} s, {1000 * a_step[n_steps]:.2f} ms a step")
    return 0 if a_step[400] * 400 <= 2 and a_step[400] <= 1.5 * a_step[100] else 1


if __name__ == "__main__":
    sys.exit(main())
