"""What can be wrong with a job sheet, as sentences with a place. `MESSAGES` explains each slug (docs/messages.md)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from bench_voice.errors import SheetError

MOST_SHOWN = 50


@dataclass(frozen=True)
class Fault:
    """One finding. `line` counts from 1 (0: the whole file). A "note" does not keep the sheet from being used."""

    file: str
    line: int
    path: str
    what: str
    mend: str
    slug: str
    severity: Literal["fault", "note"] = "fault"

    def __str__(self) -> str:
        line = f" line {self.line}" if self.line else ""
        path = f", {self.path}" if self.path else ""
        return f"{self.file}{line}{path}: {self.what} {self.mend} [{self.slug}]"


class SheetFaults(SheetError):
    """A sheet that cannot be used, with every fault that was found. `str()` has one line a fault."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        first = self.faults[0]
        super().__init__(first.what, mend=first.mend, slug=first.slug, where=first.file)

    def __str__(self) -> str:
        return "\n".join(shown(self.faults))


def shown(faults: Sequence[Fault]) -> list[str]:
    """One line a fault, and after MOST_SHOWN of them how many more there are."""
    lines = [str(fault) for fault in faults[:MOST_SHOWN]]
    if len(faults) > MOST_SHOWN:
        lines.append(f"{faults[0].file}: {len(faults) - MOST_SHOWN} more. Mend these first, then check again.")
    return lines


MESSAGES: dict[str, str] = {
    "sheet-missing-file": "The sheet cannot be read: no such file, a folder, or no permission.",
    "sheet-too-big": "A job sheet is at most 1 MB; what is larger is not a sheet.",
    "sheet-encoding": "Sheets are UTF-8 text, with or without a byte order mark.",
    "sheet-yaml": "The text is not YAML; the line is where reading stopped.",
    "sheet-tab": "YAML does not allow tabs for indenting.",
    "sheet-key-twice": "The same key stands twice in one place; one of the two would be lost.",
    "sheet-anchor": "Anchors, aliases and tags are not used: name a limit, caution or item once and refer to it.",
    "sheet-deep": "The sheet is nested deeper than any sheet needs.",
    "sheet-empty": "There is nothing in the file.",
    "sheet-key": "A key that sheets do not have.",
    "sheet-missing": "A key that must be there is not.",
    "sheet-shape": "A list stands where a text should, or the like.",
    "sheet-number": "A number that is not plain digits with a decimal point.",
    "sheet-yes-no": "Something other than yes or no.",
    "sheet-choice": "A word that is not in the list of words for this key.",
    "sheet-unit": "A unit outside of the closed list, or one that could be read two ways.",
    "sheet-text": "A text that is empty, too long, or holds control characters or HTML.",
    "sheet-name": "A spoken name that a recogniser cannot hear as it stands.",
    "sheet-id": "An id that is not small letters, digits and hyphens.",
    "sheet-spread": "A place holder that `for each` does not give, or a `for each` that cannot be used.",
    "sheet-reference": "A reference to something that the sheet does not have.",
    "sheet-id-twice": "Two things of one kind have the same id.",
    "sheet-kind": "An item is used in a way that does not fit its kind.",
    "sheet-picture": "A picture must be a file in the sheet's own folder or below.",
    "sheet-limit-cross": "A limit that nothing can keep, or whose figures contradict each other.",
    "sheet-limit-unused": "A limit that no reading uses.",
    "sheet-dimension": "A unit of another dimension than the reading is about.",
    "sheet-coarse": "The instrument's uncertainty is too large for the tolerance that it judges.",
    "sheet-marking": "A limit taken from a marking that is not read before it is needed, or is in another unit.",
    "sheet-table": "A limit's table that cannot be used: nothing chooses the row, a row twice, figures beside it.",
    "sheet-torque": "A torque whose stages, order or tolerance do not fit together, or that no step uses.",
    "sheet-pronunciation": "A pronunciation that is neither known words nor phones, or of a word nobody says.",
    "sheet-reading-unasked": "A reading that no step asks for.",
    "sheet-reading-twice": "A reading asked for by two steps; as found and as left come from replacing the part.",
    "sheet-look-unasked": "A look that no step asks for.",
    "sheet-item-unused": "An item that no step uses.",
    "sheet-temporary-left": "A temporary item that is fitted and never taken off.",
    "sheet-part-left": "A removed part that is never put back.",
    "sheet-renew-left": "A part that is thrown away and never renewed.",
    "sheet-item-order": "An item that is asked for before it can be there, or twice.",
    "sheet-item-maybe": "An item that is closed only in a step that may be passed over.",
    "sheet-required-early": "A step requires an item that is not in place before it.",
    "sheet-needs": "A step rests on one that comes later, or on itself.",
    "sheet-loop": "Steps that rest on each other in a ring.",
    "sheet-unreachable": "A step that nobody can reach.",
    "sheet-gate": "A sheet has one final gate, after everything that must be closed.",
    "sheet-hold-until": "A hold's `until` names a later step.",
    "sheet-hold-begin": "A hold's phrase begins with the word confirm.",
    "sheet-hold-short": "A hold's phrase has four or more words after confirm.",
    "sheet-hold-common": "A hold's phrase has only common words and could be said by accident.",
    "sheet-hold-near": "Two hold phrases sound too much alike.",
    "sheet-hold-words": "A hold's phrase holds something that is not words.",
    "sheet-caution-late": "A caution that comes with its step's words, or after the step it concerns.",
    "sheet-caution-unused": "A caution that is never spoken.",
    "sheet-sound-alike": "Two names that sound alike.",
    "sheet-look-alike": "Two names that differ by one letter, and the dictionary does not know how they sound.",
    "sheet-name-twice": "Two things that are said in the same place have the same name.",
    "sheet-name-command": "A name that is a command, begins like one, or is a number.",
    "sheet-unknown-word": "A word that the recogniser's dictionary does not have.",
    "sheet-sentence-long": "A sentence too long to listen to.",
    "sheet-step-long": "A step with more to say than one remembers.",
    "sheet-dust-dry": "Brake or clutch dust is never blown or brushed dry.",
    "sheet-lift-hold": "A machine is lifted and no hold point makes sure that it stands firm.",
    "sheet-figures": "A figure in the words of a step, where a named reading should carry it.",
}
