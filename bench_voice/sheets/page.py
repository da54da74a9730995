"""The sheet as one page to print or to have open beside the work: what is read aloud, and what is only to be looked at.

One HTML file without scripts or outside files; pictures are put into it. Every text of the sheet is escaped.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable
from pathlib import Path

from bench_voice.core.sheet import Caution, JobSheet, Step, TorqueStage
from bench_voice.core.signs import quantity
from bench_voice.sheets.pages import difference_words, limit_words, needs_list
from bench_voice.words.visible import on_page as escape

MAX_PICTURE_BYTES = 5_000_000
_KINDS = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpeg"}

_STYLE = """
body{font:16px/1.5 system-ui,sans-serif;max-width:52rem;margin:2rem auto;padding:0 1rem;color:#111;background:#fff}
h1{margin-bottom:0}section{border-top:1px solid #bbb;padding:.6rem 0;break-inside:avoid}h2{font-size:1.1rem;margin:0}
.say{font-size:1.15rem}.caution{border-left:.4rem solid #111;padding:.1rem .7rem;margin:.5rem 0}.hold{border:2px solid
#111;padding:.3rem .7rem;font-weight:600}img{max-width:100%;max-height:20rem}ul{margin:.3rem 0}pre{font:inherit;
white-space:pre-wrap}.stage{color:#555}h1,h2,p,li,td,th{overflow-wrap:anywhere}
.tick{display:inline-block;width:1.1em;height:1.1em;border:2px solid #111;vertical-align:-.15em;margin-right:.5em}
.lines{display:grid;grid-template-columns:repeat(auto-fit,minmax(9rem,1fr));gap:1.4rem 1.2rem;margin:1.6rem 0 1rem}
.lines span{border-top:1px solid #111;font-size:.85rem;color:#444}
table{border-collapse:collapse;width:100%;margin:.4rem 0}th{text-align:left;font-size:.85rem;font-weight:600}
td,th{padding:.2rem .4rem;border:1px solid #bbb}td.write{width:5.5rem;height:2.1rem}
@page{margin:14mm 13mm}@media print{body{margin:0;max-width:none;font-size:10.5pt}thead{display:table-header-group}
tr,.caution,.hold,li{break-inside:avoid}h2{break-after:avoid}}
"""


def page(sheet: JobSheet, folder: Path | None = None) -> str:
    """The page; pictures are taken from `folder` (None: only their names are shown)."""
    parts = [
        f"<h1>{escape(sheet.title)}</h1>",
        f"<p>{escape(sheet.machine)} ({escape(sheet.machine_id)}), sheet {escape(sheet.id)}, version "
        f"{escape(sheet.version)}</p>",
        f"<p>{escape(sheet.note)} Source: {escape(sheet.source)}</p>",
        _lines("Day", "Who", "Distance or hours", *([sheet.machine_marks] if sheet.machine_marks else [])),
        f"<pre>{escape(needs_list(sheet).partition(chr(10) * 2)[2])}</pre>",
    ]
    parts += [_step(sheet, step, number, folder) for number, step in enumerate(sheet.steps, 1)]
    return (
        f'<!doctype html>\n<html lang="{escape(sheet.language)}"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width"><title>{escape(sheet.title)}</title>'
        f"<style>{_STYLE}</style></head><body>\n" + "\n".join(parts) + "\n</body></html>\n"
    )


def _step(sheet: JobSheet, step: Step, number: int, folder: Path | None) -> str:
    parts = [f'<h2><span class="tick"></span>{number}{_head(sheet, step)}</h2>', *map(_caution, step.cautions)]
    if step.licensed:
        parts.append(f"<p><strong>Work for {escape(step.licensed)}.</strong></p>")
    parts.append(f'<p class="say">{escape(step.say)}</p>')
    if step.detail:
        parts.append(f"<p>{escape(step.detail)}</p>")
    if step.torque:
        parts.append(_torque(step.torque))
    if step.picture:
        parts.append(_picture(step.picture, folder))
    if step.hold:
        parts.append(f'<p class="hold">Say: {escape(step.hold.phrase)}</p>')
    parts.append(_list("Must be in place before", step.requires, lambda key: sheet.items[key].name))
    parts.append(_readings(sheet, step))
    parts.append(_list("Look at", step.looks, lambda key: f"{sheet.looks[key].name}: good, doubtful or bad"))
    parts.append(_list("Comes on or off here", step.opens, lambda key: sheet.items[key].name))
    parts.append(_list("Is answered for here", step.closes, lambda key: sheet.items[key].name))
    if step.gate:
        parts.append("<p>Final gate: everything that is still open is named.</p>")
    if step.follow_up:
        parts.append(f"<p>To do later: {escape(step.follow_up)}</p>")
    if step.gate:
        parts.append(_lines("Signature", "Name", "Day"))
    return "<section>" + "\n".join(part for part in parts if part) + "</section>"


def _lines(*names: str) -> str:
    """Lines to write on."""
    return '<div class="lines">' + "".join(f"<span>{escape(name)}</span>" for name in names) + "</div>"


def _readings(sheet: JobSheet, step: Step) -> str:
    """Room for every point of every reading, as found and as left."""
    if not step.readings:
        return ""
    head = "<thead><tr><th>Measure</th><th>As found</th><th>As left</th></tr></thead>"
    rows = []
    for key in step.readings:
        points = sheet.readings[key].points
        for point in range(points):
            which = f" <strong>{point + 1} of {points}</strong>" if points > 1 else ""
            text = escape(_reading(sheet, key)) if point == 0 else escape(sheet.readings[key].name)
            rows.append(f'<tr><td>{text}{which}</td><td class="write"></td><td class="write"></td></tr>')
    return f"<table>{head}<tbody>{''.join(rows)}</tbody></table>"


def _head(sheet: JobSheet, step: Step) -> str:
    only = f"only if the part behind {sheet.readings[step.only_if].name} was replaced" if step.only_if else ""
    minutes = f"about {step.minutes} minutes" if step.minutes else ""
    words = [escape(word) for word in (step.stage, only, minutes) if word]
    return f' <span class="stage">· {" · ".join(words)}</span>' if words else ""


def _caution(caution: Caution) -> str:
    text = escape(f"{caution.hazard} {caution.consequence} {caution.avoid}")
    return f'<p class="caution"><strong>{escape(caution.signal.value.upper())}</strong> {text}</p>'


def _torque(stage: TorqueStage) -> str:
    amount = f"a further {stage.turn}°" if stage.turn is not None else quantity(stage.target, stage.unit)
    on = f" ({quantity(*stage.on_instrument)} on the {stage.instrument})" if stage.on_instrument else ""
    thread = ", ".join(text for text in (stage.thread, stage.condition) if text)
    source = f" Source: {stage.source}" if stage.source else ""
    order = f"<p>In this order: {escape(' → '.join(stage.order))}</p>" if stage.order else ""
    words = f"Stage {stage.number} of {stage.count}: {amount}{on}. Thread: {thread}.{source}"
    return f"<p><strong>{escape(words)}</strong></p>{order}"


def _reading(sheet: JobSheet, key: str) -> str:
    spec = sheet.readings[key]
    points = f", {spec.points} points" if spec.points > 1 else ""
    new = f", new {quantity(spec.limit.new, spec.unit)}" if spec.limit.new is not None else ""
    instrument = f", with the {spec.instrument}" if spec.instrument else ""
    source = f" ({spec.limit.source})" if spec.limit.source else ""
    limit = f"{spec.name}{points}: {limit_words(spec.limit)}{new}{instrument}{source}"
    return "; ".join((limit, *difference_words(spec)))


def _list(title: str, keys: Iterable[str], text: Callable[[str], str]) -> str:
    rows = "".join(f"<li>{escape(text(key))}</li>" for key in keys)
    return f"<p>{escape(title)}:</p><ul>{rows}</ul>" if rows else ""


def _picture(name: str, folder: Path | None) -> str:
    """The picture itself where it is one and small enough, else its name."""
    path = folder / name if folder else None
    if path is not None and path.is_file() and path.stat().st_size <= MAX_PICTURE_BYTES:
        content = path.read_bytes()
        kind = next((kind for start, kind in _KINDS.items() if content.startswith(start)), None)
        if kind:
            body = base64.b64encode(content).decode("ascii")
            return f'<p><img alt="{escape(name)}" src="data:image/{kind};base64,{body}"></p>'
    return f"<p>Picture: {escape(name)}</p>"
