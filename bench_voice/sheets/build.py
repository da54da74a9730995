"""Checked models -> the frozen `core.sheet.JobSheet`, with every reference resolved and every fault named."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from bench_voice.core.sheet import (
    Caution,
    Hold,
    Item,
    ItemKind,
    JobSheet,
    Limit,
    LimitRow,
    Look,
    Pronunciation,
    ReadingSpec,
    Signal,
    Step,
    TorqueStage,
)
from bench_voice.sheets import models
from bench_voice.sheets.faults import Fault
from bench_voice.sheets.fields import PLACEHOLDER, sentence
from bench_voice.sheets.sounds import pronounced
from bench_voice.sheets.spread import Env, Places, Spread, spread_of, steps_of
from bench_voice.sheets.torque import in_stages, limit_of_torque, stages_of
from bench_voice.sheets.yamltext import Path_, Tree
from bench_voice.speech.units import convert, dimension_name, same_dimension


def build(sheet: models.Sheet, tree: Tree, where: str) -> tuple[JobSheet, Places, list[Fault]]:
    """The job, the places of its parts, and what is wrong. With faults the job is incomplete and must not be worked."""
    builder = _Builder(sheet, tree, where)
    return builder.run(), builder.places, builder.faults


def closest(word: str, known: Iterable[str]) -> str:
    """`Did you mean "x"?`, or "" where nothing is near."""
    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f'Did you mean "{near[0]}"?' if near else ""


# Where place holders are filled in; anywhere else they would stay.
_FILLED = ("readings", "looks", "items", "steps")


class _Builder:
    def __init__(self, sheet: models.Sheet, tree: Tree, where: str) -> None:
        self.sheet = sheet
        self.spread: Spread = spread_of(sheet)
        self.places = Places(where, tree)
        self.faults: list[Fault] = []
        self._seen: set[tuple[int, str]] = set()

    def fault(self, path: Path_, what: str, mend: str, slug: str) -> None:
        """Once a line and slug text: a spread entry says its fault once, not once a side."""
        line = self.places.tree.line(path)
        if (line, what) not in self._seen:
            self._seen.add((line, what))
            self.faults.append(Fault(self.places.file, line, self.places.tree.dotted(path), what, mend, slug))

    def run(self) -> JobSheet:
        sheet = self.sheet
        self._unfilled((), {key: part for key, part in self.places.tree.data.items() if key not in _FILLED})
        cautions = {
            name: Caution(Signal(c.signal), *map(sentence, (c.hazard, c.consequence, c.avoid)))
            for name, c in sheet.cautions.items()
        }
        for name in cautions:
            self.places.of["caution", name] = ("cautions", name)
        for name in sheet.limits:
            self.places.of["limit", name] = ("limits", name)
        for name in sheet.torques:
            self.places.of["torque", name] = ("torques", name)
            if name in sheet.limits:
                mend = "Give each its own."
                self.fault(("torques", name), f'"{name}" is a limit too.', mend, "sheet-id-twice")
            self.places.of.setdefault(("limit", name), ("torques", name))
        torques = {name: self._stages(name, torque) for name, torque in sheet.torques.items()}
        readings = self._readings()
        looks = {i: Look(i, n, also) for i, n, also, _, _ in self._named("look", "looks", sheet.looks)}
        items = {
            i: Item(i, n, ItemKind(model.kind), also)
            for i, n, also, model, _ in self._named("item", "items", sheet.items)
        }
        steps = self._steps(cautions, readings, looks, items, torques)
        return JobSheet(
            id=sheet.sheet,
            title=sheet.title,
            version=sheet.version,
            machine=sheet.machine.name,
            machine_id=sheet.machine.id,
            steps=steps,
            language=sheet.language,
            source=sheet.source,
            note=sheet.note,
            readings=readings,
            looks=looks,
            items=items,
            tools=tuple(sheet.tools),
            parts=tuple(sheet.parts),
            supplies=tuple(sheet.supplies),
            pronunciations=self._pronunciations(),
        )

    def _pronunciations(self) -> dict[str, Pronunciation]:
        out = {}
        for word, text in self.sheet.pronunciations.items():
            phones, like = (text.phones, text.say) if isinstance(text, models.Said) else (text, "")
            found = pronounced(word, phones, self.sheet.language, like)
            if isinstance(found, Pronunciation):
                out[word] = found
            else:
                self.fault(("pronunciations", word), *found, "sheet-pronunciation")
        return out

    def _stages(self, name: str, torque: models.Torque) -> tuple[TorqueStage, ...]:
        """The torque's stages; empty where it cannot be used."""
        path: Path_ = ("torques", name)
        if dimension_name(torque.unit) != "torque":
            what = f'"{torque.unit}" is a unit of {dimension_name(torque.unit)}.'
            self.fault((*path, "unit"), what, "Write a unit of torque.", "sheet-dimension")
            return ()
        wrench = None
        if torque.instrument is not None:
            wrench = self.sheet.instruments.get(torque.instrument)
            if wrench is None:
                self._unknown((*path, "instrument"), "instrument", torque.instrument, self.sheet.instruments)
            elif wrench.unit and not same_dimension(wrench.unit, torque.unit):
                self._other_dimension((*path, "instrument"), wrench, torque.unit)
                return ()
        stages, wrong = stages_of(name, torque, wrench)
        for key, what, mend in wrong:
            self.fault((*path, key) if key else path, what, mend, "sheet-torque")
        return stages

    def _other_dimension(self, path: Path_, instrument: models.Instrument, unit: str) -> None:
        what = f'The {instrument.name} shows "{instrument.unit}", which cannot be compared with "{unit}".'
        self.fault(path, what, "Check the two units.", "sheet-dimension")

    def _named(self, kind: str, key: str, group: dict[str, Any]) -> list[tuple[str, str, tuple[str, ...], Any, Env]]:
        """Every entry of a group, spread: id, spoken name, other names, model, what the place holders stand for."""
        out: list[tuple[str, str, tuple[str, ...], Any, Env]] = []
        seen: set[str] = set()
        for raw_id, model in group.items():
            path: Path_ = (key, raw_id)
            self._holders(path, raw_id)
            for env in self.spread.environments(raw_id):
                new_id = self.spread.id(raw_id, env)
                if new_id in seen:
                    self.fault(path, f'The id "{new_id}" is there twice.', "Give each its own.", "sheet-id-twice")
                    continue
                seen.add(new_id)
                self.places.of[kind, new_id] = path
                if model.name is None:
                    name = self.spread.text(raw_id, env).replace("-", " ")
                    if any(ch.isdigit() for ch in name):
                        mend = "Give it a `name:` in words: one, two."
                        self.fault(path, f'The name "{name}" holds figures.', mend, "sheet-name")
                else:
                    name = self._fill((*path, "name"), model.name, env)
                also = tuple(self._fill((*path, "also called"), other, env) for other in model.also)
                out.append((new_id, name, also, model, env))
        return out

    def _unfilled(self, path: Path_, node: Any) -> None:
        """Place holders where none is filled in would be read aloud as they stand."""
        if isinstance(node, dict):
            for key, value in node.items():
                if key != "marked on the part":
                    self._unfilled((*path, key), value)
        elif isinstance(node, list):
            for index, value in enumerate(node):
                self._unfilled((*path, index), value)
        elif isinstance(node, str) and PLACEHOLDER.search(node):
            what = f'"{PLACEHOLDER.search(node).group()}" is not filled in here.'  # type: ignore[union-attr]
            mend = "Place holders stand in readings, looks, items and steps; write words here."
            self.fault(path, what, mend, "sheet-spread")

    def _holders(self, path: Path_, text: str) -> None:
        for holder in PLACEHOLDER.findall(text):
            if holder not in self.spread.values:
                known = closest(holder, self.spread.values) or 'Give its values under "for each" at the top.'
                self.fault(path, f'"<{holder}>" stands for nothing.', known, "sheet-spread")

    def _fill(self, path: Path_, text: str, env: Env) -> str:
        filled = self.spread.text(text, env)
        for holder in PLACEHOLDER.findall(filled):
            if holder in self.spread.values:
                mend = f'Put "<{holder}>" into the id as well, or take it out here.'
                self.fault(path, f'"<{holder}>" is not filled in here: the id does not have it.', mend, "sheet-spread")
            else:
                self._holders(path, f"<{holder}>")
        return filled

    def _readings(self) -> dict[str, ReadingSpec]:
        entries = self._named("reading", "readings", self.sheet.readings)
        known = {entry[0] for entry in entries}
        out: dict[str, ReadingSpec] = {}
        for new_id, name, also, model, env in entries:
            path = self.places.of["reading", new_id]
            limit = self._limit(path, model.limit, env, known)
            if limit is None:
                continue
            instrument, uncertainty, shown_in = self._instrument(path, model, limit.unit)
            pair = self._pair(path, model, env, new_id, known)
            plausible = (model.plausible[0], model.plausible[1]) if model.plausible else None
            out[new_id] = ReadingSpec(
                id=new_id,
                name=name,
                limit=limit,
                aliases=also,
                points=model.points,
                uncertainty=uncertainty,
                instrument=instrument,
                spread=model.spread,
                pair=pair,
                pair_within=model.pair_within,
                plausible=plausible,
                is_marking=model.marking,
                instrument_unit=shown_in,
            )
        return out

    def _instrument(self, path: Path_, model: models.Reading, unit: str) -> tuple[str, Decimal, str]:
        """Name, uncertainty in the limit's unit, and the instrument's own unit where it is another one."""
        if model.instrument is None:
            return "", Decimal(0), ""
        found = self.sheet.instruments.get(model.instrument)
        if found is None:
            self._unknown((*path, "instrument"), "instrument", model.instrument, self.sheet.instruments)
            return "", Decimal(0), ""
        if found.unit is None or found.unit == unit:
            return found.name, Decimal(found.uncertainty), ""
        if not same_dimension(found.unit, unit):
            self._other_dimension((*path, "instrument"), found, unit)
            return found.name, Decimal(0), ""
        return found.name, convert(Decimal(found.uncertainty), found.unit, unit, interval=True), found.unit

    def _pair(self, path: Path_, model: models.Reading, env: Env, new_id: str, known: set[str]) -> str | None:
        if model.pair is not None:
            ref = self.spread.id(model.pair, env)
            if ref not in known:
                self._unknown((*path, "pair"), "reading", ref, known)
            return ref
        if model.pair_within is None:
            return None
        holders = [h for h in env if len(self.spread.values[h]) == 2]
        if len(holders) != 1:
            mend = "Name it: `pair: right-drum`."
            self.fault(
                (*path, "pair within"), "It does not say which reading is on the other side.", mend, "sheet-reference"
            )
            return None
        first, second = self.spread.values[holders[0]]
        other = {**env, holders[0]: second if env[holders[0]] == first else first}
        return self.spread.id(path[1] if isinstance(path[1], str) else "", other)

    def _limit(self, path: Path_, limit: Any, env: Env, known: set[str]) -> Limit | None:
        at: Path_ = (*path, "limit")
        if isinstance(limit, str):
            name = self.spread.id(limit, env)
            found = self.sheet.limits.get(name)
            if found is None and name in self.sheet.torques:
                taken = limit_of_torque(self.sheet.torques[name])
                if taken is None:
                    what = f'The torque "{name}" has no tolerance, so nothing can be judged by it.'
                    self.fault(("torques", name), what, "Add `within:`, plus or minus.", "sheet-torque")
                return taken
            if found is None:
                self._unknown(at, "limit", name, self.sheet.limits)
                return None
            at, limit = ("limits", name), found
        low, high = limit.between or (limit.at_least, limit.at_most)
        marked = None
        if limit.marked is not None:
            marked = self.spread.id(limit.marked, env)
            if marked not in known:
                self._unknown((*at, "marked on the part"), "reading", marked, known)
                marked = None
        return Limit(limit.unit, low, high, limit.new, limit.source, marked, self._rows(at, limit))

    def _rows(self, at: Path_, limit: models.Limit) -> tuple[LimitRow, ...]:
        if not limit.table:
            return ()
        path: Path_ = (*at, "table")
        if limit.marked is None:
            mend = "Add `marked on the part:` with the reading that names the size or class."
            self.fault(path, "Nothing chooses a row of this table.", mend, "sheet-table")
        if limit.at_least is not None or limit.at_most is not None or limit.between is not None:
            mend = "Keep one of the two."
            self.fault(path, "A table stands beside a limit for all.", mend, "sheet-table")
        rows: dict[Decimal, LimitRow] = {}
        for number, row in enumerate(limit.table):
            low, high = row.between or (row.at_least, row.at_most)
            if row.key in rows:
                self.fault((*path, number), f"A row for {row.key} is there already.", "Keep one.", "sheet-table")
            if low is None and high is None:
                mend = "Add `at least:`, `at most:` or `between:`."
                self.fault((*path, number), f"The row for {row.key} has no limit.", mend, "sheet-table")
            if low is not None and high is not None and low >= high:
                what = f"At least {low} and at most {high}: nothing can be both."
                self.fault((*path, number), what, "Check them.", "sheet-limit-cross")
            rows[row.key] = LimitRow(row.key, low, high)
        return tuple(rows.values())

    def _unknown(self, path: Path_, kind: str, name: str, known: Iterable[str]) -> None:
        for holder in PLACEHOLDER.findall(name):
            self._holders(path, f"<{holder}>")
            return
        plural = {"look": "looks", "step": "steps"}.get(kind, f"{kind}s")
        mend = closest(name, known) or f"Define it under `{plural}`."
        self.fault(path, f'There is no {kind} "{name}".', mend, "sheet-reference")

    def _refs(
        self, path: Path_, key: str, refs: Iterable[str], env: Env, kind: str, known: Iterable[str]
    ) -> tuple[str, ...]:
        known = known if isinstance(known, dict | set) else set(known)
        out = []
        for index, raw in enumerate(refs):
            at: Path_ = (*path, key, index) if (*path, key, index) in self.places.tree.lines else (*path, key)
            for ref in self.spread.references([raw], env):
                if ref in known:
                    out.append(ref)
                else:
                    self._unknown(at, kind, ref, known)
        return tuple(dict.fromkeys(out))

    def _steps(
        self,
        cautions: dict[str, Caution],
        readings: dict[str, ReadingSpec],
        looks: dict[str, Look],
        items: dict[str, Item],
        torques: dict[str, tuple[TorqueStage, ...]],
    ) -> tuple[Step, ...]:
        entries = list(steps_of(self.sheet, self.spread, self.faults, self.places))
        ids: dict[str, Path_] = {}
        kept = []
        for path, model, env in entries:
            self._holders((*path, "id"), model.id)
            new_id = self.spread.id(model.id, env)
            if new_id in ids:
                line = self.places.tree.line(ids[new_id])
                mend = "Give each its own; in a group put the place holder into the id."
                self.fault(
                    (*path, "id"), f'The step "{new_id}" is there twice, first in line {line}.', mend, "sheet-id-twice"
                )
                continue
            ids[new_id] = path
            kept.append((path, model, env, new_id))
            self.places.of["step", new_id] = path
        # All readings that were written count as known here: a reading with a faulty limit has its fault already.
        wanted = set(readings) | {name for kind, name in self.places.of if kind == "reading"}
        out: list[Step] = []
        for path, m, env, new_id in kept:

            def fill(key: str, text: str, path: Path_ = path, env: Env = env) -> str:
                return self._fill((*path, key), text, env)

            def refs(
                key: str, values: Iterable[str], kind: str, known: Iterable[str], path: Path_ = path, env: Env = env
            ) -> tuple[str, ...]:
                return self._refs(path, key, values, env, kind, known)

            only_if = None
            if m.only_if is not None:
                found = refs("only if replaced", [m.only_if], "reading", wanted)
                if len(found) > 1:
                    mend = "Name one reading, or put the place holder into the step's id."
                    self.fault((*path, "only if replaced"), "More than one reading is meant.", mend, "sheet-reference")
                only_if = found[0] if found and found[0] in readings else None
            opens = self._items(path, m, env, items, opening=True)
            closes = self._items(path, m, env, items, opening=False)
            torque = refs("torque", [m.torque], "torque", torques) if m.torque else ()
            whole = Step(
                id=new_id,
                say=sentence(fill("say", m.say)),
                detail=fill("detail", m.detail),
                stage=fill("stage", m.stage),
                cautions=tuple(cautions[c] for c in refs("cautions", m.cautions, "caution", cautions)),
                hold=self._hold(path, m, env, new_id, set(ids)),
                readings=tuple(r for r in refs("readings", m.readings, "reading", wanted) if r in readings),
                looks=refs("looks", m.looks, "look", looks),
                opens=opens,
                closes=closes,
                requires=refs("requires", m.requires, "item", items),
                needs=refs("needs", m.needs, "step", set(ids)),
                only_if=only_if,
                gate=m.gate,
                follow_up=sentence(fill("follow up", m.follow_up)),
                minutes=m.minutes,
                picture=m.picture or "",
                licensed=fill("licensed", m.licensed).rstrip(". "),
            )
            parts = in_stages(whole, torques[torque[0]] if torque else ())
            for part in parts[:-1]:
                if part.id in ids:
                    mend = "Give that step another id."
                    self.fault((*path, "torque"), f'The id "{part.id}" is needed for a stage.', mend, "sheet-id-twice")
                self.places.of["step", part.id] = path
            out += parts
        return tuple(out)

    def _hold(self, path: Path_, model: models.Step, env: Env, step_id: str, ids: Iterable[str]) -> Hold | None:
        if model.hold is None:
            return None
        long = isinstance(model.hold, models.Hold)
        phrase = model.hold.phrase if isinstance(model.hold, models.Hold) else model.hold
        again = model.hold.again if isinstance(model.hold, models.Hold) else True
        at: Path_ = (*path, "hold", "phrase") if long else (*path, "hold")
        until = model.hold.until if isinstance(model.hold, models.Hold) else None
        ends = self._refs((*path, "hold"), "until", [until], env, "step", ids) if until else ()
        return Hold(step_id, self._fill(at, phrase, env).lower().rstrip(". "), again, ends[0] if ends else None)

    def _items(
        self, path: Path_, model: models.Step, env: Env, items: dict[str, Item], *, opening: bool
    ) -> tuple[str, ...]:
        """Item ids of the step's keys, each checked against the item's kind."""
        keys = (
            [("fit", model.fit), ("remove", model.remove)]
            if opening
            else [("take off", model.take_off), ("put back", model.put_back), ("fit new", model.fit_new)]
        )
        allowed = {
            "fit": {ItemKind.TEMPORARY},
            "take off": {ItemKind.TEMPORARY},
            "remove": {ItemKind.PART, ItemKind.RENEW},
            "put back": {ItemKind.PART},
            "fit new": {ItemKind.RENEW},
        }
        instead = {
            ItemKind.TEMPORARY: ("fit", "take off"),
            ItemKind.PART: ("remove", "put back"),
            ItemKind.RENEW: ("remove", "fit new"),
        }
        out: list[str] = []
        for key, refs in keys:
            for item_id in self._refs(path, key, refs, env, "item", items):
                kind = items[item_id].kind
                if kind not in allowed[key]:
                    use = instead[kind][0 if opening else 1]
                    what = f'"{item_id}" is of kind {kind.value} and stands under "{key}".'
                    mend = f'Write it under "{use}", or change its kind.'
                    self.fault((*path, key), what, mend, "sheet-kind")
                out.append(item_id)
        return tuple(dict.fromkeys(out))
