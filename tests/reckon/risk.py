"""False-accept risk of the three-state rule, by Monte Carlo: `python tests/reckon/risk.py`.

Error model: the reading is the true value plus a normal error of standard deviation u = U/2 (k = 2). The worst case of
ILAC-G8:09/2019 §4.2: a part just outside its limit, so that every "good" is false.
"""

from __future__ import annotations

import random
from decimal import Decimal

from bench_voice.core.sheet import Limit
from bench_voice.core.verdict import Verdict, judge

SEED = 14253
N = 200_000
LIMIT, U = Decimal("2.000"), Decimal("0.040")


def worst_case(n: int = N, seed: int = SEED, guard: Decimal = U) -> float:
    """Share of "good" among `n` readings of a part that lies at its limit, to all intents below it."""
    draw = random.Random(seed)
    limit, u = Limit("mm", low=LIMIT), float(U) / 2
    good = sum(judge(LIMIT + Decimal(repr(draw.gauss(0.0, u))), limit, guard).verdict is Verdict.GOOD for _ in range(n))
    return good / n


def lot(n: int = N, seed: int = SEED) -> tuple[float, float]:
    """Parts spread normally about the limit (standard deviation 2U): false accepts over all, and over the accepted."""
    draw = random.Random(seed)
    limit, u = Limit("mm", low=LIMIT), float(U) / 2
    accepted = false = 0
    for _ in range(n):
        true = float(LIMIT) + draw.gauss(0.0, 2 * float(U))
        if judge(Decimal(repr(true + draw.gauss(0.0, u))), limit, U).verdict is Verdict.GOOD:
            accepted += 1
            false += true < float(LIMIT)
    return false / n, false / accepted


if __name__ == "__main__":
    print(f"seed {SEED}, n {N}, U {U}, limit at least {LIMIT}")
    print(f"at the limit, w = U: {worst_case():.3%} good; w = 0: {worst_case(guard=Decimal(0)):.3%} good")
    print("lot about the limit: {:.4%} of all, {:.4%} of the accepted".format(*lot()))
