"""Checked models -> the frozen `core.sheet.JobSheet`, with every reference resolved and every fault named."""

from __future__ import annotations

from collections.abc import Iterable

from bench_voice.core.sheet import (
    Caution,
    Hold,
    Item,
    ItemKind,
    JobSheet,
    Look,
    Pronunciation,
    ReadingSpec,
    Signal,
    Step,
    TorqueStage,
)
from bench_voice.sheets import models
from bench_voice.sheets.build_figures import Figures
from bench_voice.sheets.faults import Fault
from bench_voice.sheets.fields import sentence
from bench_voice.sheets.pronunciations import pronounced
from bench_voice.sheets.spread import Env, Places, steps_of
from bench_voice.sheets.torque import in_stages
from bench_voice.sheets.yamltext import Path_, Tree


def build(sheet: models.Sheet, tree: Tree, where: str) -> tuple[JobSheet, Places, list[Fault]]:
    """The job, the places of its parts, and what is wrong. With faults the job is incomplete and must not be worked."""
    builder = _Builder(sheet, tree, where)
    return builder.run(), builder.places, builder.faults


# Where place holders are filled in; anywhere else they would stay.
_FILLED = ("readings", "looks", "items", "steps")


class _Builder(Figures):
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
            machine_marks=sheet.machine.marks,
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
                follow_up=fill("follow up", m.follow_up),
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
