"""Rules over what is said and heard: hold phrases, names, cautions, sentences."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from bench_voice.core.sheet import JobSheet, Step
from bench_voice.grammar.commands import taken
from bench_voice.phonetics import NEAR, Entries, apart, is_known, keys, proposal, sounds, words_of
from bench_voice.sheets.faults import Fault
from bench_voice.sheets.fields import sentence
from bench_voice.sheets.spread import Places

# Words that are said all day long; a phrase of these alone could be said to somebody else.
COMMON = frozenset(
    {
        "confirm", "a", "an", "all", "and", "are", "as", "at", "be", "been", "both", "can", "correct", "did", "do",
        "does", "done", "every", "everything", "fine", "for", "from", "go", "going", "good", "had", "has", "have",
        "here", "i", "in", "is", "it", "its", "job", "just", "me", "my", "no", "not", "now", "of", "off", "ok", "okay",
        "on", "one", "out", "ready", "right", "so", "step", "sure", "that", "the", "then", "there", "these", "thing",
        "things", "this", "those", "to", "up", "very", "was", "we", "well", "were", "with", "work", "yes", "you",
    }
)  # fmt: skip
# Two hold phrases are too near when at most so many phones tell them apart ("left" and "right" differ by three).
HOLD_NEAR = 2.0
MAX_SENTENCE = 25  # words; plain-language guides want 20 at most for an instruction (common practice, no source)
MAX_STEP = 60
MAX_ID = 80  # a file name has at most 255 bytes


def holds(sheet: JobSheet, places: Places) -> list[Fault]:
    """Rules over hold phrases, alone and against each other."""
    faults: list[Fault] = []

    def add(step: Step, what: str, mend: str, slug: str) -> None:
        key = "hold"
        path = (*places.of["step", step.id], "hold", "phrase")
        fault = places.fault("step", step.id, key, what, mend, slug)
        if path in places.tree.lines:
            fault = Fault(places.file, places.tree.line(path), places.tree.dotted(path), what, mend, slug)
        faults.append(fault)

    begin = taken(sheet.language).hold_opening
    held = [(step, step.hold.phrase) for step in sheet.steps if step.hold is not None]
    for step, phrase in held:
        words = phrase.split()
        if not re.fullmatch(r"(?:[^\W\d_]|[' -])+", phrase):
            add(
                step,
                f'"{phrase}" holds more than words.',
                "Write figures as words, without points.",
                "sheet-hold-words",
            )
        elif words[0] != begin:
            add(step, f'"{phrase}" does not begin with "{begin}".', f'Write "{begin} {phrase}".', "sheet-hold-begin")
        elif len(words) < 5:
            what = f'"{phrase}" has {len(words) - 1} words after "{begin}".'
            add(step, what, "Name the thing in four words or more.", "sheet-hold-short")
        elif not any(word not in COMMON for word in words):
            what = f'"{phrase}" has only common words.'
            add(step, what, "Name the thing that is confirmed.", "sheet-hold-common")
    for step, other, far in _near_holds(held, sheet.pronunciations):
        phrase = step.hold.phrase if step.hold else ""
        if far is None:
            what = f'The phrase "{phrase}" is that of "{other.id}" too.'
        else:
            theirs = other.hold.phrase if other.hold else ""
            what = f'"{phrase}" sounds nearly like "{theirs}" of "{other.id}".'
        add(step, what, "Make the two differ in more than one short word.", "sheet-hold-near")
    return faults


def _near_holds(held: list[tuple[Step, str]], said: Entries) -> Iterator[tuple[Step, Step, float | None]]:
    """Pairs of near phrases. Only those that share all but one word are compared: looked up, so it stays linear."""
    shelves: dict[tuple[str, ...], list[tuple[Step, str]]] = defaultdict(list)
    seen: set[tuple[str, str]] = set()
    for step, phrase in held:
        words = tuple(words_of(phrase))  # as they are heard: nobody says a hyphen
        shapes = [words] + [(*words[:i], "*", *words[i + 1 :]) for i in range(len(words))]
        shapes += [words[:i] + words[i + 1 :] for i in range(len(words))]
        for shape in shapes:
            for other, theirs in shelves[shape][-20:]:
                pair = (other.id, step.id)
                if pair in seen or other.id == step.id:
                    continue
                seen.add(pair)
                far = apart(phrase, theirs, said)
                if list(words) == words_of(theirs):
                    yield step, other, None
                elif far is None or far <= HOLD_NEAR:
                    yield step, other, far if far is not None else 0.0
        for shape in shapes:
            shelves[shape].append((step, phrase))


@dataclass(frozen=True)
class _Named:
    kind: str
    id: str
    name: str
    key: str
    index: int = -1


def _names(sheet: JobSheet) -> Iterator[list[_Named]]:
    """Names in groups that are said in the same place: readings, looks, items."""
    for kind, group in (("reading", sheet.readings), ("look", sheet.looks), ("item", sheet.items)):
        out: list[_Named] = []
        for entry in group.values():
            out.append(_Named(kind, entry.id, entry.name, "name"))
            out += [_Named(kind, entry.id, a, "also called", i) for i, a in enumerate(entry.aliases)]
        yield out


def names(sheet: JobSheet, places: Places) -> list[Fault]:
    """Names that are commands, that are there twice, that sound or look alike."""
    faults: list[Fault] = []

    def add(named: _Named, what: str, mend: str, slug: str) -> None:
        faults.append(places.fault(named.kind, named.id, named.key, what, mend, slug, index=named.index))

    words = taken(sheet.language)
    for group in _names(sheet):
        near = _NearNames(sheet)
        for named in group:
            why = words.why(named.name)
            if why:
                add(named, f'"{named.name}" {why}.', "Find another name.", "sheet-name-command")
            for what, mend, slug in near.faults(named):
                add(named, what, mend, slug)
    return faults


class _NearNames:
    """Names that are said in the same place, on shelves of what sounds or is spelled alike: only those that share a
    shelf are compared."""

    def __init__(self, sheet: JobSheet) -> None:
        self._said = sheet.pronunciations
        self._is_spoken = sheet.language == "en"  # the dictionary is an English one
        self._shelves: dict[object, list[_Named]] = defaultdict(list)
        self._told: set[tuple[str, str]] = set()

    def faults(self, named: _Named) -> Iterator[tuple[str, str, str]]:
        """What is wrong, its mend and its slug, for each earlier entry that `named` is too near to; shelves `named`."""
        ways = sounds(named.name, self._said) if self._is_spoken else ()
        # A word that the dictionary lacks is compared by its letters.
        shapes: set[object] = set().union(*(keys(way) for way in ways)) if ways else set(_letters(named.name))
        shapes.add(named.name)
        for other in (other for shape in shapes for other in self._shelves[shape]):
            pair = (other.id, named.id)
            if other.id == named.id or pair in self._told:
                continue
            fault = self._nearness(named.name, other, has_ways=bool(ways))
            if fault is not None:
                self._told.add(pair)
                yield fault
        for shape in shapes:
            self._shelves[shape].append(named)

    def _nearness(self, name: str, other: _Named, *, has_ways: bool) -> tuple[str, str, str] | None:
        if name == other.name:
            return f'"{name}" is the name of "{other.id}" too.', "Give each its own name.", "sheet-name-twice"
        mend = "Find a name that sounds apart."
        if not has_ways:
            return f'"{name}" and "{other.name}" differ by one letter.', mend, "sheet-look-alike"
        far = apart(name, other.name, self._said)
        if far is not None and far <= NEAR:
            return f'"{name}" sounds nearly like "{other.name}".', mend, "sheet-sound-alike"
        return None


def _letters(name: str) -> Iterable[str]:
    return ["letters " + name] + ["letters " + name[:i] + name[i + 1 :] for i in range(len(name))]


def unknown_words(sheet: JobSheet, places: Places) -> list[Fault]:
    """A note for each word of a name or a hold phrase that the dictionary lacks, once a word."""
    faults: list[Fault] = []
    if sheet.language != "en":  # the dictionary is an English one
        return faults
    said: set[str] = set()

    def look(text: str, kind: str, name: str, key: str, index: int = -1) -> None:
        for word in words_of(text):
            if word in said or is_known(word, sheet.pronunciations):
                continue
            said.add(word)
            what = f'The recogniser\'s dictionary does not have "{word}".'
            mend = f"Take a common word, or add under `pronunciations`, perhaps: `{word}: {proposal(word)}`."
            faults.append(places.fault(kind, name, key, what, mend, "sheet-unknown-word", is_note=True, index=index))

    for group in _names(sheet):
        for named in group:
            look(named.name, named.kind, named.id, named.key, named.index)
    for step in sheet.steps:
        if step.hold is not None:
            look(step.hold.phrase, "step", step.id, "hold")
    return faults


def pronunciations(sheet: JobSheet, places: Places) -> list[Fault]:
    """A pronunciation of a word that stands nowhere: a slip of the pen, and the word meant keeps its own."""
    texts = [named.name for group in _names(sheet) for named in group]
    texts += [text for step in sheet.steps for text in (step.say, step.hold.phrase if step.hold else "")]
    texts += [text for step in sheet.steps for c in step.cautions for text in (c.hazard, c.consequence, c.avoid)]
    said = {word for text in (sheet.title, sheet.machine, *texts) for word in words_of(text)}
    faults = []
    for word in sheet.pronunciations:
        if word not in said:
            path: tuple[str | int, ...] = ("pronunciations", word)
            what, mend = f'"{word}" is said nowhere in this sheet.', "Check its spelling, or take it out."
            line, dotted = places.tree.line(path), places.tree.dotted(path)
            faults.append(Fault(places.file, line, dotted, what, mend, "sheet-pronunciation"))
    return faults


_SIGNAL = re.compile(r"\b(danger|warning|caution|notice)\s*[:!]", re.IGNORECASE)
_DUST = re.compile(r"\b(dust|brakes?|drums?|linings?|shoes?|clutch|calipers?)\b")
_BLOWN = re.compile(
    r"\bblow(?:ing|n)?\b(?! (?:the )?(?:fuse|horn))|\bcompressed air\b|\bair (?:line|gun|hose)\b|\bblast\b"
)
_BRUSHED = re.compile(r"\b(?:brush|sweep|wipe|clean)\b[^.;]*\bdry\b|\bdry brush\b")
_WET = re.compile(r"\b(wet|damp|liquid|water|cleaner|let (?:it|them) dry|until (?:it is |they are )?dry)\b")


def cautions(sheet: JobSheet, places: Places) -> list[Fault]:
    """Cautions come before the step they concern, and every one is spoken."""
    faults: list[Fault] = []
    data = places.tree.data
    first: dict[str, int] = {}
    for index, step in enumerate(sheet.steps):
        for key, text in (("say", step.say), ("detail", step.detail)):
            found = _SIGNAL.search(text)
            if found:
                what = f'"{found.group(1)}" stands in the words of the step, where it comes too late.'
                mend = "Define it under `cautions` and name it in the step: it is then spoken before."
                faults.append(places.fault("step", step.id, key, what, mend, "sheet-caution-late"))
        for caution in step.cautions:
            first.setdefault(caution.hazard, index)
    for name, entry in (data.get("cautions") or {}).items():
        if ("caution", name) not in places.of:
            continue
        given = first.get(sentence(" ".join(str(entry.get("hazard", "")).split())))
        if given is None:
            what, mend = f'No step names the caution "{name}".', "Name it under `cautions` of the step that it is for."
            faults.append(places.fault("caution", name, "", what, mend, "sheet-caution-unused"))
            continue
        about = entry.get("about") or []
        words = {str(word).lower() for word in ([about] if isinstance(about, str) else about)}
        for step in sheet.steps[:given]:
            spoken = next((w for w in words_of(step.say) if w in words), None)
            if spoken:
                what = (
                    f'This step speaks of "{spoken}", and the caution "{name}" about it comes only in '
                    f'"{sheet.steps[given].id}".'
                )
                mend = f"Add `cautions: [{name}]` here."
                faults.append(places.fault("step", step.id, "say", what, mend, "sheet-caution-late"))
    return faults


_FIGURE = re.compile(
    r"\b\d+(?:[.,]\d+)?\s?(?:mm|cm|um|thou|n[*.]?m|lbf[*.]ft|bar|psi|kpa|mv|v|ma|a|ohms?|kohm|mohm|degc|°c|ml|l|rpm)\b",
    re.IGNORECASE,
)


def figures(sheet: JobSheet, places: Places) -> list[Fault]:
    """A note where a step with readings says a figure with its unit: the limit has it, and two would drift apart."""
    faults: list[Fault] = []
    for step in sheet.steps:
        found = _FIGURE.search(step.say)
        if found and (step.readings or step.torque):
            what = f'"{found.group()}" stands in the words of a step that has {_carrier(step)}.'
            mend = f"Leave it to the {_limit(step)}, so that it is written once."
            faults.append(places.fault("step", step.id, "say", what, mend, "sheet-figures", is_note=True))
    return faults


def _carrier(step: Step) -> str:
    return "a torque" if step.torque else "readings"


def _limit(step: Step) -> str:
    return "torque" if step.torque else "reading's limit"


def ids(sheet: JobSheet, places: Places) -> list[Fault]:
    """Ids of sheet and machine make a journal's file name."""
    faults: list[Fault] = []
    for path, text in ((("sheet",), sheet.id), (("machine", "id"), sheet.machine_id)):
        if len(text) > MAX_ID:
            what, mend = f"This id has {len(text)} characters.", f"Keep it under {MAX_ID}."
            line, where = places.tree.line(path), places.tree.dotted(path)
            faults.append(Fault(places.file, line, where, what, mend, "sheet-id"))
    return faults


def sentences(sheet: JobSheet, places: Places) -> list[Fault]:
    """Sentences and steps too long to listen to; dust blown dry."""
    faults: list[Fault] = []
    for step in sheet.steps:
        if _longest(step.say) <= MAX_SENTENCE and len(step.say.split()) > MAX_STEP:
            what = f"This step says {len(step.say.split())} words at once; one keeps about {MAX_STEP} in mind."
            mend = "Make two steps of it, or move some to `detail`."
            faults.append(places.fault("step", step.id, "say", what, mend, "sheet-step-long"))
    for kind, name, key, text, is_spoken in _texts(sheet, places):
        longest = _longest(text)
        if is_spoken and longest > MAX_SENTENCE:
            what = f"A sentence here has {longest} words; one keeps about {MAX_SENTENCE} in mind."
            faults.append(places.fault(kind, name, key, what, "Make two of it.", "sheet-sentence-long"))
        if _is_dusty(text):
            what = "Dust of brakes or clutches is blown or brushed dry here."
            mend = "Wet it and wipe it up (29 CFR 1910.1001, appendix F)."
            faults.append(places.fault(kind, name, key, what, mend, "sheet-dust-dry"))
    return faults


def _texts(sheet: JobSheet, places: Places) -> Iterator[tuple[str, str, str, str, bool]]:
    """Kind, name, key and text of all that is said or shown, and whether it is said without being asked for."""
    for step in sheet.steps:
        yield "step", step.id, "say", step.say, True
        yield "step", step.id, "detail", step.detail, False
        yield "step", step.id, "follow up", step.follow_up, True
    for name, entry in (places.tree.data.get("cautions") or {}).items():
        if ("caution", name) in places.of:
            for key in ("hazard", "consequence", "avoid"):
                yield "caution", name, key, " ".join(str(entry.get(key, "")).split()), True


def _longest(text: str) -> int:
    """Words of the longest sentence."""
    parts = re.split(r"(?<=[.;:!?])\s+", text)
    return max(len(part.split()) for part in parts)


def _is_dusty(text: str) -> bool:
    if not _DUST.search(text.lower()):
        return False
    for part in re.split(r"[.;!?]", text.lower()):
        is_dry = _BLOWN.search(part) or (_BRUSHED.search(part) and not _WET.search(part))
        if is_dry and taken("en").negations.isdisjoint(words_of(part)):
            return True
    return False
