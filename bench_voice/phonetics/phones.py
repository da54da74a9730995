"""The phones of the CMU pronouncing dictionary, without stress, and which of them are of one kind.

Classes follow the rows of the IPA chart (plosives by voice, nasals, fricatives, liquids and glides, vowels by height).
"""

from __future__ import annotations

Phones = tuple[str, ...]

_CLASSES = (
    "P T K", "B D G", "M N NG", "F TH", "V DH", "S SH Z ZH", "CH JH", "L R", "W Y HH",
    "IY IH", "EH EY AE", "AH ER UH", "AA AO AW OW", "UW", "AY OY",
)  # fmt: skip
CLASS_OF: dict[str, int] = {phone: index for index, row in enumerate(_CLASSES) for phone in row.split()}
PHONES = frozenset(CLASS_OF)
VOWELS = frozenset(["AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"])
_SIBILANTS = frozenset(["S", "Z", "SH", "ZH", "CH", "JH"])
_VOICELESS = frozenset(["P", "T", "K", "F", "TH", "S", "SH", "CH", "HH"])


def are_phones(text: str) -> bool:
    """Whether the text is phones and nothing else: "S P EY S ER"."""
    parts = text.split()
    return bool(parts) and all(part in PHONES for part in parts)


def with_s(stem: Phones) -> Phones:
    """The plural or the third person: "caps", "pins", "washes" (common practice, no source)."""
    last = stem[-1]
    return (*stem, "IH", "Z") if last in _SIBILANTS else (*stem, "S" if last in _VOICELESS else "Z")


def with_ed(stem: Phones) -> Phones:
    """The past: "locked", "pinned", "fitted" (common practice, no source)."""
    last = stem[-1]
    return (*stem, "IH", "D") if last in ("T", "D") else (*stem, "T" if last in _VOICELESS else "D")


__all__ = ["CLASS_OF", "PHONES", "VOWELS", "Phones", "are_phones", "with_ed", "with_s"]
