"""What a free ear wrote, as the parser wants it, and how much each of several texts weighs. Shared by all free ears."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

# Tokens: nobody says more in a second. In noise a held search runs on and on ("five point zero five point zero …").
_TOKENS_A_SECOND, _TOKENS_BESIDES, _LONGEST_TEXT = 7, 6, 48


def longest_text(speech_s: float) -> int:
    """Tokens that so much speech can hold at most."""
    return min(_LONGEST_TEXT, _TOKENS_BESIDES + math.ceil(_TOKENS_A_SECOND * speech_s))


def clean(text: str) -> str:
    """As the parser wants it: lower case, no punctuation but apostrophes in words, one space."""
    text = re.sub(r"[^a-z' ]+", " ", text.lower().replace("’", "'"))
    return " ".join(word.strip("'") for word in text.split() if word.strip("'"))


def weighted(texts: Sequence[tuple[str, float]]) -> list[tuple[str, float]]:
    """Log-probabilities to weights that sum to 1; equal words put together; heaviest first."""
    if not texts:
        return []
    top = max(score for _, score in texts)
    weights: dict[str, float] = {}
    for words, score in texts:
        weights[words] = weights.get(words, 0.0) + math.exp(score - top)
    total = sum(weights.values())
    return sorted(((words, weight / total) for words, weight in weights.items()), key=lambda pair: -pair[1])
