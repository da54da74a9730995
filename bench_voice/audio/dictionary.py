"""How words are said, from the first ear's dictionary, without loading it: looked up in the file."""

from __future__ import annotations

import mmap
from functools import cache, lru_cache

from bench_voice.audio.ear_pocketsphinx import model_folder
from bench_voice.errors import EngineError

_LONGEST_LINE = 200  # bytes


@lru_cache(maxsize=512)
def ways_to_say(word: str) -> tuple[str, ...]:
    """Every pronunciation of an English word, ARPAbet without stress; none of words that the dictionary lacks, and
    where it isn't installed."""
    content = _content()
    if content is None or not word.isalpha():
        return ()
    found: list[str] = []
    at = content.find(f"\n{word} ".encode())
    while at >= 0:
        line, _, _ = content[at + 1 : at + 1 + _LONGEST_LINE].partition(b"\n")
        name, _, phones = line.decode().partition(" ")
        if name.partition("(")[0] != word:
            break
        found.append(phones)
        at += 1 + len(line)
    return tuple(found)


@cache
def _content() -> mmap.mmap | None:
    try:
        with (model_folder() / "cmudict-en-us.dict").open("rb") as file:
            return mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
    except (EngineError, OSError, ValueError):
        return None
