"""Phones as the phone networks number them: 0 is their blank, then the phones in the order of their names."""

from __future__ import annotations

from bench_voice.phonetics.cmudict import Ways
from bench_voice.phonetics.graphemes import propose
from bench_voice.phonetics.phones import PHONES
from bench_voice.phonetics.pronunciation import Said, phones_of

Labels = tuple[int, ...]
LABEL_OF: dict[str, int] = {phone: number for number, phone in enumerate(sorted(PHONES), 1)}


def labels_of(word: str, ways: Ways, said: Said) -> tuple[Labels, ...]:
    """Each way of saying the word: as the sheet or the person says it, else the dictionary's, else as proposed; none
    for a word that cannot be said from its letters."""

    def known(word: str) -> str | None:
        return next((" ".join(way) for way in ways(word)), None)

    if word in said:
        own = phones_of(said[word], known)
        return (_numbered(own),) if own else ()
    if found := ways(word):
        return tuple(_numbered(" ".join(way)) for way in found)
    proposed = propose(word, known)
    return (_numbered(proposed),) if proposed else ()


def _numbered(phones: str) -> Labels:
    return tuple(LABEL_OF[phone] for phone in phones.split())


__all__ = ["LABEL_OF", "Labels", "labels_of"]
