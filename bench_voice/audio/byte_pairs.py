"""Words to tokens and back for a Whisper: byte-level byte-pair encoding, read from its `tokenizer.json`.

The method: A. Radford et al., "Language Models are Unsupervised Multitask Learners" (2019), section 2.2, over R.
Sennrich et al., "Neural Machine Translation of Rare Words with Subword Units" (2016). Each byte has a visible
character; a text is cut into words, numbers and signs with the blank before them, and in each of these the pair that
was merged first in training is joined, again and again. The package `tokenizers` does the same, and brings a client for
a hub of models.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any

# Shown as themselves: the visible characters of Latin-1. The others get the characters from U+0100 on, in their order.
_VISIBLE = (*range(ord("!"), ord("~") + 1), *range(ord("¡"), ord("¬") + 1), *range(ord("®"), ord("ÿ") + 1))
_HIDDEN = tuple(byte for byte in range(256) if byte not in _VISIBLE)
_SHOWN = {byte: chr(byte) for byte in _VISIBLE} | {byte: chr(256 + at) for at, byte in enumerate(_HIDDEN)}
_BYTE = {shown: byte for byte, shown in _SHOWN.items()}
# Over the kinds of the characters: letter, number, blank, other space, anything else.
_PIECES = re.compile(r" ?l+| ?n+| ?o+|[ s]+(?![^ s])|[ s]+")
_ENDINGS = re.compile(r"'(?:s|t|re|ve|m|ll|d)")


class BytePairs:
    """`vocabulary`: number by token, as the file writes tokens. Raises OSError, ValueError, KeyError, TypeError for a
    file of another form."""

    def __init__(self, path: Path) -> None:
        data: Any = json.loads(path.read_text("utf-8"))
        model = data["model"]
        if model["type"] != "BPE" or data["pre_tokenizer"]["type"] != "ByteLevel" or data.get("normalizer"):
            raise ValueError("its tokens are of another kind")
        added = {str(token["content"]): int(token["id"]) for token in data["added_tokens"]}
        self.vocabulary: dict[str, int] = {**model["vocab"], **added}
        self._special = {int(token["id"]) for token in data["added_tokens"] if token["special"]}
        self._added = {number: token for token, number in added.items()}
        self._tokens = {number: token for token, number in model["vocab"].items()}
        merges = (merge.split(" ") if isinstance(merge, str) else merge for merge in model["merges"])
        self._ranks = {(first, second): rank for rank, (first, second) in enumerate(merges)}
        self._joined = lru_cache(maxsize=4096)(self._join)

    def encode(self, text: str) -> list[int]:
        """Numbers of the text's tokens. What looks like a special token is text."""
        return [number for piece in _pieces(text) for number in self._joined(piece)]

    def _join(self, piece: str) -> tuple[int, ...]:
        parts = [_SHOWN[byte] for byte in piece.encode()]
        while len(parts) > 1:
            known = [(self._ranks[pair], pair) for pair in pairwise(parts) if pair in self._ranks]
            if not known:
                break
            best = min(known)[1]
            joined, at = [], 0
            while at < len(parts):
                is_pair = tuple(parts[at : at + 2]) == best
                joined.append("".join(best) if is_pair else parts[at])
                at += 2 if is_pair else 1
            parts = joined
        return tuple(self.vocabulary[part] for part in parts)

    def decode(self, numbers: Sequence[int]) -> str:
        """The text; special tokens are left out, bytes that are no UTF-8 become U+FFFD."""
        found = bytearray()
        for number in numbers:
            if number in self._special:
                continue
            if number in self._added:
                found += self._added[number].encode()
            else:
                found += bytes(_BYTE[shown] for shown in self._tokens[number])
        return found.decode("utf-8", "replace")


def _kind(character: str) -> str:
    if character == " ":
        return " "
    if character.isspace():
        return "s"
    return {"L": "l", "N": "n"}.get(unicodedata.category(character)[0], "o")


def _pieces(text: str) -> Iterator[str]:
    kinds, at = "".join(map(_kind, text)), 0
    while at < len(text):
        found = _ENDINGS.match(text, at) or _PIECES.match(kinds, at)
        assert found is not None  # each kind begins a piece
        yield text[at : found.end()]
        at = found.end()
