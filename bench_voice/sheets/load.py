"""From a file to a `JobSheet`, or to every fault that keeps it from being one."""

from __future__ import annotations

import typing
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from bench_voice.core.sheet import JobSheet
from bench_voice.sheets import models
from bench_voice.sheets.build import build, closest
from bench_voice.sheets.faults import Fault, SheetFaults
from bench_voice.sheets.proofread import proofread
from bench_voice.sheets.spread import Places, spread_of
from bench_voice.sheets.yamltext import Path_, Tree, dotted, parse, read_text


def load_sheet(path: Path) -> JobSheet:
    """The sheet in `path`, proofread. Raises `SheetFaults` (a `SheetError`) with all faults; notes do not stop it."""
    text = read_text(path)
    sheet, places, faults = _built(text, path.name)
    faults += _pictures(sheet, places, path.parent)
    return _finished(sheet, places, faults)


def load_text(text: str, where: str) -> JobSheet:
    """The same from text; `where` names it in messages."""
    sheet, places, faults = _built(text, where)
    return _finished(sheet, places, faults)


def check_file(path: Path) -> list[Fault]:
    """Everything that is wrong or doubtful in the file, in the order of its lines. Bad content never raises."""
    try:
        text = read_text(path)
        sheet, places, faults = _built(text, path.name)
    except SheetFaults as error:
        return sorted(error.faults, key=_order)
    faults += _pictures(sheet, places, path.parent)
    if not faults:
        faults += proofread(sheet, places)
    return sorted(faults, key=_order)


def check_text(text: str, where: str) -> list[Fault]:
    """`check_file` for a text."""
    try:
        sheet, places, faults = _built(text, where)
    except SheetFaults as error:
        return sorted(error.faults, key=_order)
    if not faults:
        faults += proofread(sheet, places)
    return sorted(faults, key=_order)


def _order(fault: Fault) -> tuple[int, str, str]:
    return (fault.line, fault.path, fault.what)


def _finished(sheet: JobSheet, places: Places, faults: list[Fault]) -> JobSheet:
    if not faults:
        faults = [fault for fault in proofread(sheet, places) if fault.severity == "fault"]
    if faults:
        raise SheetFaults(sorted(faults, key=_order))
    return sheet


def _pictures(sheet: JobSheet, places: Places, folder: Path) -> list[Fault]:
    out = []
    for step in sheet.steps:
        if step.picture and not (folder / step.picture).is_file():
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
    }
)
_STUBS: dict[str, Any] = {
    "sheet": "x", "title": "x", "version": "1", "source": "x", "machine": {"name": "x", "id": "x"},
}  # fmt: skip


def _built(text: str, where: str) -> tuple[JobSheet, Places, list[Fault]]:
    """The job and its faults; raises `SheetFaults` with all that can be found where there is no whole job."""
    tree = parse(text, where)
    if not isinstance(tree.data, dict):
        what, mend = "This is not a job sheet: it has no keys.", "`bench-voice start-sheet` writes a beginning."
        raise SheetFaults([Fault(where, 1, "", what, mend, "sheet-shape")])
    try:
        model = models.Sheet.model_validate(tree.data)
    except ValidationError as error:
        found = _model_faults(error, tree, where)
        # What did validate is still looked at, so that one slip does not hide the rest.
        raise SheetFaults([fault for _, fault in found] + _rest_of(tree, {path for path, _ in found}, where)) from None
    sheet, places, faults = build(model, tree, where)
    if faults:
        faults += [fault for fault in proofread(sheet, places) if fault.slug not in _WHOLE]
    return sheet, places, faults


def _rest_of(tree: Tree, bad: set[Path_], where: str) -> list[Fault]:
    """Faults of the job that is left when everything faulty is taken out; only those that this did not cause."""
    left = tree.without(bad)
    for key, stub in _STUBS.items():
        left.data.setdefault(key, stub)
    try:
        model = models.Sheet.model_validate(left.data)
    except ValidationError:
        return []
    sheet, places, more = build(model, left, where)
    lost = {path[1] for path in bad if len(path) == 2}
    spread = spread_of(model)
    names = {spread.id(raw, env) for raw in map(str, lost) for env in spread.environments(raw)}
    more = [fault for fault in more if not any(f'"{name}"' in fault.what for name in names)]
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
            what, slug = f"Here are {context['actual_length']} where {wanted} belong.", "sheet-shape"
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
    """The keys that the model allows at `path`."""
    model: Any = models.Sheet
    node = data
    for part in path:
        node = node[part]
        if isinstance(model, type) and issubclass(model, BaseModel):
            field = next(f for n, f in model.model_fields.items() if (f.alias or n) == part)
            model = field.annotation
        model = _inner(model, node)
    if isinstance(model, type) and issubclass(model, BaseModel):
        return [field.alias or name for name, field in model.model_fields.items()]
    return []


def _inner(annotation: Any, node: Any) -> Any:
    """The model inside of Annotated, list, dict or a union, chosen as the discriminators do."""
    found: list[type[BaseModel]] = []

    def walk(part: Any) -> None:
        if isinstance(part, type) and issubclass(part, BaseModel):
            found.append(part)
        for inner in typing.get_args(part):
            walk(inner)

    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    walk(annotation)
    if models.Group in found:
        is_group = isinstance(node, dict) and ("for each" in node or "steps" in node)
        # The list itself comes first, then its entry: keep the whole annotation until an entry is reached.
        return annotation if isinstance(node, list) else (models.Group if is_group else models.Step)
    if (
        found
        and isinstance(node, dict)
        and typing.get_origin(annotation) is dict
        and any(isinstance(value, dict | type(None)) for value in node.values())
    ):
        args = typing.get_args(annotation)
        return args[1]
    return found[0] if found else annotation
