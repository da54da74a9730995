"""From a file to a `JobSheet`, or to every fault that keeps it from being one."""

from __future__ import annotations

import types
import typing
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from bench_voice.core.sheet import JobSheet
from bench_voice.sheets import models
from bench_voice.sheets.build import build
from bench_voice.sheets.faults import Fault, SheetFaults
from bench_voice.sheets.fields import as_id
from bench_voice.sheets.proofread import proofread
from bench_voice.sheets.resolve import closest
from bench_voice.sheets.spread import MAX_THINGS, Places, spread_of, too_many
from bench_voice.sheets.yamltext import Path_, Tree, dotted, parse, read_text


def load_sheet(path: Path) -> JobSheet:
    """The sheet in `path`, proofread. Raises `SheetFaults` (a `SheetError`) with all faults; notes do not stop it."""
    text = read_text(path)
    sheet, places, faults = _built(text, path.name, path.parent)
    return _finished(sheet, places, faults)


def load_text(text: str, where: str) -> JobSheet:
    """The same from text; `where` names it in messages."""
    sheet, places, faults = _built(text, where)
    return _finished(sheet, places, faults)


def load_kept(text: str, where: str) -> JobSheet:
    """A sheet that was proofread when its session began: only what keeps it from being a job is a fault."""
    sheet, _, faults = _built(text, where)
    if faults:
        raise SheetFaults(sorted(faults, key=_order))
    return sheet


def check_file(path: Path) -> list[Fault]:
    """Everything that is wrong or doubtful in the file, in the order of its lines. Bad content never raises."""
    try:
        text = read_text(path)
    except SheetFaults as error:
        return sorted(error.faults, key=_order)
    return check_text(text, path.name, path.parent)


def check_text(text: str, where: str, folder: Path | None = None) -> list[Fault]:
    """`check_file` for a text; pictures are looked for in `folder` (None: not looked for)."""
    try:
        sheet, places, faults = _built(text, where, folder)
    except SheetFaults as error:
        return sorted(error.faults, key=_order)
    if not [fault for fault in faults if not _is_of_a_file(fault)]:
        faults += proofread(sheet, places)
    return sorted(faults, key=_order)


def _is_of_a_file(fault: Fault) -> bool:
    """A picture that is not there: the job itself is whole."""
    return fault.slug == "sheet-picture"


def _order(fault: Fault) -> tuple[int, str, str]:
    return (fault.line, fault.path, fault.what)


def _finished(sheet: JobSheet, places: Places, faults: list[Fault]) -> JobSheet:
    if not faults:
        faults = [fault for fault in proofread(sheet, places) if fault.severity == "fault"]
    if faults:
        raise SheetFaults(sorted(faults, key=_order))
    return sheet


def _pictures(sheet: JobSheet, places: Places, folder: Path | None) -> list[Fault]:
    out: list[Fault] = []
    if folder is None:
        return out
    for step in sheet.steps:
        if not step.picture:
            continue
        try:
            # A link may lead out of the folder although its name does not.
            is_inside = (folder / step.picture).resolve().is_relative_to(folder.resolve())
            is_there = (folder / step.picture).is_file()
        except (OSError, RuntimeError, ValueError):  # links in a ring, a name that is too long
            is_inside, is_there = True, False
        if not is_inside:
            what, mend = f'"{step.picture}" leaves the sheet\'s folder.', "Put the picture beside the sheet."
            out.append(places.fault("step", step.id, "picture", what, mend, "sheet-picture"))
        elif not is_there:
            what, mend = f'The picture "{step.picture}" is not there.', "Check its name and folder."
            out.append(places.fault("step", step.id, "picture", what, mend, "sheet-picture"))
    return out


# Rules that look at the whole job: with a step or a reference lost they would repeat what was already said.
_WHOLE = frozenset(
    {
        "sheet-limit-unused",
        "sheet-marking",
        "sheet-reading-unasked",
        "sheet-reading-twice",
        "sheet-look-unasked",
        "sheet-item-unused",
        "sheet-temporary-left",
        "sheet-part-left",
        "sheet-renew-left",
        "sheet-item-order",
        "sheet-item-maybe",
        "sheet-required-early",
        "sheet-needs",
        "sheet-loop",
        "sheet-unreachable",
        "sheet-gate",
        "sheet-caution-late",
        "sheet-caution-unused",
        "sheet-lift-hold",
        "sheet-pronunciation",
        "sheet-torque",
    }
)
# What stands in for a faulty or missing required key while the rest is looked at.
_STUBS: dict[str, Any] = {
    **dict.fromkeys(("sheet", "title", "version", "source", "say", "hazard", "consequence", "avoid"), "x"),
    "signal": "danger",
    "machine": {"name": "x", "id": "x"},
}


def _built(text: str, where: str, folder: Path | None = None) -> tuple[JobSheet, Places, list[Fault]]:
    """The job and its faults, those of its pictures in `folder` among them.

    Raises `SheetFaults` with all that can be found where there is no whole job.
    """
    tree = parse(text, where)
    if not isinstance(tree.data, dict):
        what, mend = "This is not a job sheet: it has no keys.", "`bench-voice start-sheet` writes a beginning."
        raise SheetFaults([Fault(where, 1, "", what, mend, "sheet-shape")])
    try:
        model = models.Sheet.model_validate(tree.data)
    except ValidationError as error:
        found = _model_faults(error, tree, where)
        # What did validate is still looked at, so that one slip does not hide the rest.
        raise SheetFaults([fault for _, fault in found] + _rest_of(tree, found, where, folder)) from None
    if many := too_many(model, Places(where, tree)):
        raise SheetFaults(many)
    sheet, places, faults = build(model, tree, where)
    if faults:
        faults += [fault for fault in proofread(sheet, places) if fault.slug not in _WHOLE]
    return sheet, places, faults + _pictures(sheet, places, folder)


def _rest_of(tree: Tree, found: list[tuple[Path_, Fault]], where: str, folder: Path | None) -> list[Fault]:
    """Faults of the job that is left when everything faulty is taken out; only those that this did not cause."""
    bad = {path for path, _ in found}
    for _ in range(4):
        left = tree.without(bad, _STUBS)
        try:
            model = models.Sheet.model_validate(left.data)
            break
        except ValidationError as error:
            # Taking out a required key spoils what it stood in: that goes too, without a word.
            bad = bad | {left.original(path) for path, _ in _model_faults(error, left, where)}
            if () in bad:
                return []
    else:
        return []
    if many := too_many(model, Places(where, left)):
        return many
    sheet, places, more = build(model, left, where)
    # What a lost or half lost entry makes others say is not said: its name, and anything of a group that is gone.
    lost = {path[1] for path in bad if len(path) > 1 and isinstance(path[1], str)}
    spread = spread_of(model)
    few = [raw for raw in lost if spread.count(raw) <= MAX_THINGS]
    hushed = {f'"{spread.id(raw, env)}"' for raw in few for env in spread.environments(raw)}
    # An id that was written in another way ("pump head") is referred to as it should have been.
    hushed |= {f'"{as_id(raw)}"' for raw in lost}
    hushed |= {f'no {str(path[0]).removesuffix("s")} "' for path in bad if len(path) == 1}
    more = [fault for fault in more if not any(words in fault.what for words in hushed)]
    more += _pictures(sheet, places, folder)
    return more + [fault for fault in proofread(sheet, places) if fault.slug not in _WHOLE]


def _model_faults(error: ValidationError, tree: Tree, where: str) -> list[tuple[Path_, Fault]]:
    """pydantic's errors as sentences, each with the path that has to go for the rest to be looked at."""
    out = []
    for item in error.errors(include_url=False):
        loc = _in_tree(item["loc"], tree.data)
        kind, context = item["type"], item.get("ctx", {})
        line = tree.line(loc)
        if kind.startswith("sheet-"):
            what, mend, slug = item["msg"], str(context["mend"]), kind
        elif kind == "missing":
            key = str(item["loc"][-1])
            what, mend, slug = f'"{key}" is missing.', f"Add `{key}:` here.", "sheet-missing"
            if key in _STUBS:
                out.append(((*loc, key), Fault(where, line, dotted(loc), what, mend, slug)))
                continue
        elif kind == "extra_forbidden":
            keys = _keys_at(loc[:-1], tree.data)
            mend = closest(str(loc[-1]), keys) or f"Known here: {', '.join(keys)}."
            what, slug = f'There is no key "{loc[-1]}".', "sheet-key"
        elif kind == "literal_error":
            what = f'"{item["input"]}" is not one of the words for this.'
            mend, slug = f"Write one of: {str(context['expected']).replace(chr(39), '')}.", "sheet-choice"
        elif kind in ("too_short", "too_long"):
            wanted = context.get("min_length", context.get("max_length"))
            mend = "Write two numbers: [low, high]." if wanted == 2 else "Write at least one."
            count = context["actual_length"] or "none"
            what, slug = f"There must be {wanted} here, and there are {count}.", "sheet-shape"
            if wanted == 1:
                what = "Nothing stands here."
        else:
            what, mend, slug = "This is not of the right shape.", "Write a group of keys, `key: value`.", "sheet-shape"
            if kind == "list_type":
                mend = "Write a list: each entry after `- `."
        out.append((loc, Fault(where, line, dotted(loc), what, mend, slug)))
    return list(dict.fromkeys(out))


def _in_tree(loc: tuple[Any, ...], data: Any) -> Path_:
    """`loc` without pydantic's own marks (union tags, `[key]`) and without a key that the file lacks."""
    path: list[str | int] = []
    node = data
    for part in loc:
        if (isinstance(node, dict) and part in node) or (
            isinstance(node, list) and isinstance(part, int) and part < len(node)
        ):
            path.append(part)
            node = node[part]
    return tuple(path)


def _keys_at(path: Path_, data: Any) -> list[str]:
    """The keys that the model allows at `path`; empty where no model stands there."""
    annotation: Any = models.Sheet
    node = data
    for part in path:
        node = node[part]
        annotation = _arm(_below(annotation, part), node)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [field.alias or name for name, field in annotation.model_fields.items()]
    return []


def _below(annotation: Any, part: str | int) -> Any:
    """The annotation of the field, entry or value `part` under `annotation`."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        fields = annotation.model_fields.items()
        return next((field.annotation for name, field in fields if (field.alias or name) == part), None)
    arguments = typing.get_args(annotation)
    return arguments[-1] if arguments else None


def _arm(annotation: Any, node: Any) -> Any:
    """`annotation` without Annotated, and of a choice the arm that a group of keys takes, as the discriminators do."""
    while typing.get_origin(annotation) is typing.Annotated:
        annotation = typing.get_args(annotation)[0]
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        arms = [_arm(arm, node) for arm in typing.get_args(annotation)]
        found = [arm for arm in arms if isinstance(arm, type) and issubclass(arm, BaseModel)]
        if models.Group in found:
            return models.Group if models.is_group(node) else models.Step
        return found[0] if found else annotation
    return annotation
