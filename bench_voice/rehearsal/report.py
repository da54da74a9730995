"""What a rehearsal tells: mistaken words, other names, lines for the person's own pronunciations. Text and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bench_voice.audio.own_words import read_own
from bench_voice.core.sheet import JobSheet
from bench_voice.phonetics import dictionary, proposal, words_of
from bench_voice.rehearsal.prompts import (
    Mistaken,
    Rehearsal,
    Take,
    counted,
    mistaken,
    name_words,
    never_heard,
    other_forms,
    weak_names,
)
from bench_voice.session.outcomes import Outcome
from bench_voice.sheets.other_names import OtherName, other_names, things
from bench_voice.words.phrases import Language

FIRST_EAR = "pocketsphinx"
_MOST_MISTAKEN = 12


@dataclass(frozen=True)
class Report:
    """`names`: each weak name with others to try; `holds`: hold phrases that were missed; `forms`: commands with other
    words for them; `said`: lines for the person's own pronunciations at `own`; `also`: other names that the sheet
    has already, by name."""

    counts: dict[str, int]
    mistaken: tuple[Mistaken, ...]
    names: tuple[tuple[str, tuple[OtherName, ...]], ...]
    holds: tuple[str, ...]
    forms: tuple[tuple[str, tuple[str, ...]], ...]
    said: tuple[str, ...]
    own: Path | None
    left_out: tuple[str, ...]
    also: dict[str, tuple[str, ...]]

    def lines(self) -> list[str]:
        c = self.counts
        total = sum(c.values()) - c["skipped"]
        noun = "phrase" if total == 1 else "phrases"
        came = f"{c['right']} right, {c['asked']} asked about, {c['wrong']} taken for something else"
        out = ["", f"{total} {noun}: {came}, {c['nothing']} not understood. Skipped: {c['skipped']}."]
        for row in self.mistaken[:_MOST_MISTAKEN]:
            heard = f'heard as "{row.heard}"' if row.heard else "not heard"
            out.append(f'  "{row.said}" {heard} ({", ".join(row.ears)}; times: {row.times})')
        for name, others in self.names:
            tried = "; ".join(
                f'"{one.name}"' + (f" ({one.apart:g} sounds from {one.nearest})" if one.nearest else "")
                for one in others
            )
            out.append(f'Another name for "{name}": {tried or ADVICE}.')
            if name in self.also:
                out.append(f"  The sheet takes {', '.join(self.also[name])} for it as well.")
        for phrase in self.holds:
            out.append(f'Say otherwise in the sheet: "{phrase}" (the words above that were mistaken).')
        for command, forms in self.forms:
            out.append(f'Instead of "{command}" you can say: {", ".join(forms)}.')
        if self.said:
            out.append(f"Lines to try in {self.own or 'your own pronunciations'}:")
            out += [f"  {line}" for line in self.said]
        out += [f'No phrase could be made for "{name}".' for name in self.left_out]
        return out

    def as_json(self) -> dict[str, Any]:
        return {
            "counts": self.counts,
            "mistaken": [row.__dict__ | {"ears": list(row.ears)} for row in self.mistaken],
            "names": [{"name": name, "try": [one.__dict__ for one in others]} for name, others in self.names],
            "holds": list(self.holds),
            "forms": [{"command": command, "try": list(forms)} for command, forms in self.forms],
            "pronunciations": list(self.said),
            "left_out": list(self.left_out),
        }


# Two words are longer than one, and harder to take for another.
ADVICE = "none known here; give it two common words that say where it is or what it does"


def of(takes: Sequence[Take], rehearsal: Rehearsal, sheet: JobSheet, language: Language, own: Path | None) -> Report:
    heard = mistaken(takes)
    bad = [take for take in takes if take.outcome not in (Outcome.RIGHT, Outcome.SKIPPED)]
    names = weak_names(takes)
    return Report(
        counts=counted(takes),
        mistaken=heard,
        names=tuple((name, other_names(name, sheet, _instead(name, heard))) for name in names),
        holds=tuple(take.prompt.words for take in bad if take.prompt.is_hold),
        forms=tuple((take.prompt.words, forms) for take in bad if (forms := other_forms(take, language))),
        said=_said(takes, sheet, own),
        own=own,
        left_out=rehearsal.left_out,
        also={thing.name: thing.aliases for thing in things(sheet) if thing.aliases},
    )


def _instead(name: str, rows: Sequence[Mistaken]) -> list[str]:
    """What was heard for words of the name: another name should not sound like that either."""
    return [row.heard for row in rows if row.heard and name_words(row.said) & name_words(name)]


def _said(takes: Sequence[Take], sheet: JobSheet, own: Path | None) -> tuple[str, ...]:
    """Lines for words that the first ear never wrote and nobody has said how to say: phones proposed where the
    dictionary lacks the word, else what the other ears wrote there, if the dictionary has that."""
    known = {*read_own(own), *sheet.pronunciations}
    lines = []
    for word, instead in sorted(never_heard(takes, FIRST_EAR).items()):
        if word in known or not dictionary() or sheet.language != "en":
            continue
        others = words_of(instead)
        if word not in dictionary():
            lines.append(f"{word} {proposal(word)}")
        elif others and all(other in dictionary() for other in others):
            lines.append(f"{word} {' '.join(others)}")
    return tuple(lines)


def take_lines(take: Take) -> list[str]:
    """One phrase: what became of it, and what each ear wrote where that made a difference."""
    prompt = take.prompt
    about = {Outcome.RIGHT: "right", Outcome.ASKED: "ASKED", Outcome.NOTHING: "NOTHING", Outcome.WRONG: "WRONG"}
    shown = about.get(take.outcome, "skipped")
    out = [f'{prompt.number:3d}  {shown:8s}"{prompt.words}"' + (f' taken as "{take.instead}"' if take.instead else "")]
    if take.question:
        out.append(f'       asked: "{take.question}"')
    if take.outcome is not Outcome.SKIPPED and not take.is_plain:
        out += [f'       {ear.ear}: "{ear.words}"' for ear in take.ears]
    return out
