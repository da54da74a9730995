"""`for each`: one entry of the file becomes several of the job. `<side>` in an id spreads it; texts take it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import chain, product
from math import prod

from bench_voice.sheets.faults import Fault
from bench_voice.sheets.fields import PLACEHOLDER
from bench_voice.sheets.models import Group, Sheet, Step
from bench_voice.sheets.yamltext import Path_, Tree

Env = Mapping[str, str]
MAX_STEPS = 2000
MAX_THINGS = 2000  # readings, looks and items, each; the largest job that we know of has some hundreds
MAX_REFERENCES = 20_000


def in_id(value: str) -> str:
    """A value as it stands in an id: "one inlet" -> "one-inlet"."""
    return value.replace(" ", "-").replace("'", "")


@dataclass
class Places:
    """Where each thing of the job stands in the file, so that later checks can name a line."""

    file: str
    tree: Tree
    of: dict[tuple[str, str], Path_] = field(default_factory=dict)

    def fault(
        self, kind: str, name: str, key: str, what: str, mend: str, slug: str, *, is_note: bool = False, index: int = -1
    ) -> Fault:
        """A fault at `key` of the thing (`kind`, `name`); the thing itself where it has no such key."""
        path = self.of.get((kind, name), ())
        for part in ((key, index), (key,), ()) if index >= 0 else ((key,), ()):
            if (*path, *part) in self.tree.lines:
                path = (*path, *part)
                break
        return Fault(
            self.file, self.tree.line(path), self.tree.dotted(path), what, mend, slug, "note" if is_note else "fault"
        )


@dataclass(frozen=True)
class Spread:
    """The values of `for each`, and how texts, ids and references take them."""

    values: Mapping[str, tuple[str, ...]]

    def environments(self, text: str) -> list[dict[str, str]]:
        """One environment for each combination of the place holders in `text`; unknown ones stay as they are."""
        holders = [h for h in dict.fromkeys(PLACEHOLDER.findall(text)) if h in self.values]
        return [dict(zip(holders, combo, strict=True)) for combo in product(*(self.values[h] for h in holders))]

    def count(self, text: str, bound: Iterable[str] = ()) -> int:
        """How many `environments` there would be, without making them. `bound`: place holders with a value."""
        holders = {h for h in PLACEHOLDER.findall(text) if h in self.values} - set(bound)
        return prod(len(self.values[holder]) for holder in holders)

    def text(self, text: str, env: Env) -> str:
        return PLACEHOLDER.sub(lambda m: env.get(m.group(1), m.group(0)), text)

    def id(self, text: str, env: Env) -> str:
        return PLACEHOLDER.sub(lambda m: in_id(env[m.group(1)]) if m.group(1) in env else m.group(0), text)

    def references(self, refs: Iterable[str], env: Env) -> tuple[str, ...]:
        """Ids; a place holder that `env` does not bind stands for all of its values."""
        out: list[str] = []
        for ref in refs:
            bound = self.id(ref, env)
            out += [self.id(bound, more) for more in self.environments(bound)]
        return tuple(dict.fromkeys(out))


def spread_of(sheet: Sheet) -> Spread:
    return Spread({name: tuple(values) for name, values in sheet.for_each.items()})


_REFERENCES = (
    "cautions", "readings", "looks", "fit", "take_off", "remove", "put_back", "fit_new", "requires", "needs",
)  # fmt: skip


def too_many(sheet: Sheet, places: Places) -> list[Fault]:
    """Faults where the sheet, spread out, is more than a job; counted before anything is spread."""
    spread = spread_of(sheet)
    faults: list[Fault] = []

    def add(path: Path_, what: str, mend: str) -> None:
        line, where = places.tree.line(path), places.tree.dotted(path)
        faults.append(Fault(places.file, line, where, what, mend, "sheet-spread"))

    for key, group in (("readings", sheet.readings), ("looks", sheet.looks), ("items", sheet.items)):
        total = 0
        for name in group:
            total += spread.count(name)
            if total > MAX_THINGS:
                what = f"Spread out, the sheet has more than {MAX_THINGS} {key}."
                add((key, name), what, "Take a place holder out, or make two jobs of it.")
                break
    steps = references = 0
    for index, entry in enumerate(sheet.steps):
        path: Path_ = ("steps", index)
        grouped = entry.steps if isinstance(entry, Group) else [entry]
        bound = {entry.for_each} if isinstance(entry, Group) else set()
        times = len(spread.values.get(entry.for_each, ())) if isinstance(entry, Group) else 1
        for step in grouped:
            here = times * spread.count(step.id, bound)
            steps += here
            known = bound | set(PLACEHOLDER.findall(step.id))
            lists = [getattr(step, key) for key in _REFERENCES]
            single = [text for text in (step.torque, step.only_if, getattr(step.hold, "until", None)) if text]
            references += here * sum(spread.count(text, known) for text in chain(single, *lists))
        if steps > MAX_STEPS:
            add(path, f"Spread out, the sheet has more than {MAX_STEPS} steps.", "Make two jobs of it.")
            break
        if references > MAX_REFERENCES:
            what = f"Spread out, the steps refer to more than {MAX_REFERENCES} things."
            add(path, what, "Put the place holder into the step's id as well, or make two jobs of it.")
            break
    return faults


def steps_of(sheet: Sheet, spread: Spread, faults: list[Fault], places: Places) -> Iterator[tuple[Path_, Step, Env]]:
    """Every step of the job in order, with its place and what its place holders stand for."""
    for index, entry in enumerate(sheet.steps):
        path: Path_ = ("steps", index)
        inner: list[tuple[Path_, Step, Env]] = []
        if isinstance(entry, Group):
            if entry.for_each not in spread.values:
                known = ", ".join(spread.values) or "none"
                what = f'"for each" at the top has no "{entry.for_each}" (it has: {known}).'
                line_path = (*path, "for each")
                mend = "Give its values there."
                faults.append(
                    Fault(
                        places.file,
                        places.tree.line(line_path),
                        places.tree.dotted(line_path),
                        what,
                        mend,
                        "sheet-spread",
                    )
                )
                continue
            for value in spread.values[entry.for_each]:
                for number, step in enumerate(entry.steps):
                    inner.append(((*path, "steps", number), step, {entry.for_each: value}))
        else:
            inner.append((path, entry, {}))
        for place, step, env in inner:
            for more in spread.environments(spread.id(step.id, env)):
                yield place, step, {**env, **more}
