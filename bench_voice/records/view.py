"""What the record's page shows, in words: made of the summary, for the template."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_UP, Decimal
from typing import Any

from bench_voice.core.signs import quantity
from bench_voice.records import plots
from bench_voice.records.due import due
from bench_voice.records.kept import Job
from bench_voice.records.moments import Zone, ms_of, zone_of
from bench_voice.records.results import results
from bench_voice.records.sound import kept_sounds
from bench_voice.records.summary import summary
from bench_voice.records.template import page
from bench_voice.records.words import SIDES, bounds_words, differ_by_words, difference_limit_words

Rows = list[tuple[tuple[Any, ...], bool]]
VALUE_HEADS = ("Reading", "Point", "Value", "Limit", "Verdict", "Stage", "Words heard", "When", "What became of it")


def html(job: Job) -> str:
    """One page without scripts or outside files; everything that came from speech or the sheet is escaped."""
    body, sheet = summary(job), job.sheet
    state = job.state
    zone, journal = zone_of(body["zone"]), body["journal"]
    found, together = results(body, state)
    started, ended = ms_of(body["started"]), ms_of(body["ended"])
    values = _values(body, zone)
    return page(
        "record.html.j2",
        title=body["title"],
        machine=body["machine"],
        machine_id=body["machine_id"],
        marks=body["machine_marks"],
        at=body["distance"],
        who=body["who"],
        zone=zone.name(started),
        begun=zone.short(started),
        ended=_until(zone, started, ended),
        begun_long=zone.long(started),
        ended_long=zone.long(ended),
        first_line=body["first_line"],
        is_good=not body["first_line"].startswith("NOT"),
        clock_went_back=body["clock_went_back"],
        results=[(one, plots.strip(one.scale) if one.scale else None) for one in found],
        together=together,
        looks=[row for row in body["looks"] if row["state"] == "stands"],
        decisions=[
            ((row["name"], row["why"], row["reason"], zone.of(row["at"]), _decision_state(row, zone)), _is_gone(row))
            for row in body["decisions"]
        ],
        holds=[
            ((zone.of(row["at"]), row["phrase"], row["heard"], row["state"]), _is_gone(row)) for row in body["holds"]
        ],
        register=[
            ((row["name"], row["kind"], zone.of(row["opened"]), _closed(row, zone)), row["state"] == "withdrawn")
            for row in body["register"]
        ],
        tightened=_tightened(body, zone),
        todo=[(text, _when_due(text, sheet.language, zone, ended)) for text in body["follow_ups"]],
        wear=_wear(job, body),
        carried=[
            (
                (row["reading"], row["point"] + 1, quantity(row["value"], row["unit"]), row["stage"], row["journal"]),
                False,
            )
            for row in body["carried_over"]
        ],
        notes=[((zone.of(row["at"]), row["step"], row["text"], row["state"]), _is_gone(row)) for row in body["notes"]],
        sounds=kept_sounds(job.file.path, body["steps"], zone),
        moments=_moments(body, zone),
        instruments=_instruments(job, body),
        cautions=_cautions(job, body),
        sheet=sheet.id,
        sheet_version=sheet.version,
        source=body["source"],
        note=body["note"],
        journal=journal["name"],
        events=journal["events"],
        last_hash=journal["last_hash"],
        sheet_hash=journal["sheet_hash"],
        cut_off=_cut_off(body, zone),
        more_facts=(),
        values=values,
        changed=sum(1 for row in body["readings"] if row["state"] in ("withdrawn", "superseded")),
        value_heads=VALUE_HEADS,
    )


def _until(zone: Zone, started: int | None, ended: int | None) -> str:
    """Only the time where it is the same day."""
    if started is None or ended is None:
        return ""
    text, begun = zone.short(ended), zone.short(started)
    return text[11:] if text[:10] == begun[:10] else text


def _is_gone(row: dict[str, Any]) -> bool:
    """Struck through: what does not count any more. An old part's values and an earlier confirmation did their work."""
    return row["state"] in ("withdrawn", "superseded", "reopened")


def _decision_state(row: dict[str, Any], zone: Zone) -> str:
    """ "reopened 2026-01-05 08:00: another limit"."""
    if not row["changed"]:
        return str(row["state"])
    what = {"value": "another value", "limit": "another limit", "pair": "the other side changed"}[row["changed"]]
    at = f" {zone.of(row['reopened_at'])}" if row["reopened_at"] else ""
    return f"reopened{at}: {what}" if row["state"] == "reopened" else f"{row['state']} (reopened{at}: {what})"


def _values(body: dict[str, Any], zone: Zone) -> Rows:
    """Every value, every look, and after the last value of each difference what they say together, in order of time."""
    both = sorted([*body["readings"], *body["differences"], *body["looks"]], key=lambda row: row["seq"])
    return [(_value(row, zone), _is_gone(row)) for row in both]


def _value(row: dict[str, Any], zone: Zone) -> tuple[Any, ...]:
    if "look" in row:
        words = f"{row['judgement']}, {row['note']}" if row["note"] else row["judgement"]
        return (row["name"], "", words, "", "", "", row["heard"], zone.of(row["at"]), row["state"])
    if "side" in row:
        which = f"1 to {len(row['points'])}" if row["side"] == "spread" else "both sides"
        limit = difference_limit_words(row["side"], row["at_most"], row["unit"])
        return (row["name"], which, differ_by_words(row), limit, row["verdict"], row["stage"], "", "", row["state"])
    state = row["state"] + (" (correction)" if row["is_correction"] else "")
    shown = quantity(row["value"], row["unit"])
    start = (row["name"], row["point"] + 1, shown, _limit(row), _verdict(row), row["stage"])
    return (*start, row["heard"], zone.of(row["at"]), state)


def _limit(row: dict[str, Any]) -> str:
    own = bounds_words(row["at_least"], row["at_most"], row["limit_unit"])
    limits = ((side, row[f"{side}_at_most"]) for side in SIDES)
    found = [own, *(difference_limit_words(side, most, row["limit_unit"]) for side, most in limits if most is not None)]
    return "; ".join(filter(None, found)) or "none"


def _verdict(row: dict[str, Any]) -> str:
    """With what was said at the time, where a limit has been corrected since."""
    first = row["verdict_when_taken"]
    return str(row["verdict"]) if row["verdict"] == first else f"{row['verdict']} (when taken: {first})"


def _closed(row: dict[str, Any], zone: Zone) -> str:
    if row["state"] == "closed":
        return zone.of(row["closed"])
    return "STILL OPEN" if row["state"] == "open" else "withdrawn"


def _tightened(body: dict[str, Any], zone: Zone) -> Rows:
    return [
        (
            (
                zone.of(row["at"]),
                row["torque"],
                f"{row['stage']} of {row['stages']}",
                quantity(row["target"], row["unit"]) if row["turn"] is None else f"a further {row['turn']}°",
                ", ".join(text for text in (row["thread"], row["condition"]) if text),
                ", ".join(row["order"]),
            ),
            False,
        )
        for row in body["tightened"]
    ]


def _when_due(text: str, language: str, zone: Zone, ended: int | None) -> str:
    """A day where the sheet gives a time; distance and hours stand in the words already, and are named plainly."""
    if ended is None:
        return ""
    day = zone.at(ended).date()
    found = due(text, day, language)
    parts = [f"by {found.day.isoformat()}"] if found.day else []
    return ", or ".join([*parts, *(f"after {one}" for one in found.by_use)])


def _wear(job: Job, body: dict[str, Any]) -> list[dict[str, Any]]:
    """The words of each trend, with a curve of the values that it was reckoned from."""
    series = {(one.reading, one.point): one for one in job.state.wear()}
    found = []
    for row in body["wear"]:
        one = series.get((row["reading"], row["point"]))
        name = (
            f"{row['name']}, point {row['point'] + 1}" if job.sheet.readings[row["reading"]].points > 1 else row["name"]
        )
        found.append({"name": name, "text": row["text"], "curve": _curve(one, row["unit"]) if one else None})
    return found


def _curve(one: Any, unit: str) -> plots.Curve | None:
    pairs = sorted(one.pairs)
    limits = [
        (float(limit), words) for limit, words in ((one.low, "at least"), (one.high, "at most")) if limit is not None
    ]
    if not pairs:
        return None
    values = sorted(value for _, value in pairs)
    return plots.curve(
        [(float(x), float(y)) for x, y in pairs],
        [(y, f"{words} {quantity(one.low if words == 'at least' else one.high, unit)}") for y, words in limits],
        [quantity(x, one.against_unit) for x in (pairs[0][0], pairs[-1][0])],
        [quantity(value, unit) for value in (values[0], values[-1])],
    )


def _moments(body: dict[str, Any], zone: Zone) -> Rows:
    found = [(row["seq"], zone.of(row["at"]), f"mark, at {row['step']}") for row in body["marks"]]
    found += [
        (row["seq"], zone.of(row["at"]), f"went on after {_span(row['gap_ms'])}") for row in body["interruptions"]
    ]
    return [((at, what), False) for _, at, what in sorted(found)]


def _span(ms: int) -> str:
    minutes = max(0, ms) // 60_000
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 48 * 60 else f"{minutes // (24 * 60)} days"


def _instruments(job: Job, body: dict[str, Any]) -> Rows:
    """What each reading was taken with, and how far that can be trusted."""
    by_use: dict[tuple[str, str], list[str]] = {}
    taken = {row["reading"] for row in body["readings"]}
    for spec in job.sheet.readings.values():
        if spec.id not in taken:
            continue
        use = job.state.uses.get(spec.id)
        name = use.instrument if use else spec.instrument
        if use:
            parts = [quantity(_doubt(use.absolute), spec.unit)] if use.absolute else []
            doubt = " or ".join([*parts, *([f"{use.percent} % of the value"] if use.percent else [])])
        else:
            doubt = quantity(_doubt(spec.uncertainty), spec.unit) if spec.uncertainty else ""
        if name or doubt:
            by_use.setdefault((name or "not named", doubt or "not given"), []).append(spec.name)
    notes: dict[str, list[str]] = {}
    for one in body["instruments"]:
        for late in one["overdue"]:
            notes.setdefault(late["instrument"], []).append(f"calibration overdue by {late['days']} days")
        for name in one["missing"]:
            notes.setdefault(name, []).append("not among the person's instruments; the sheet's figure was taken")
    rows: Rows = [
        ((name, ", ".join(names), doubt, "; ".join(notes.pop(name, ()))), False)
        for (name, doubt), names in by_use.items()
    ]
    return rows + [((name, "", "", "; ".join(texts)), False) for name, texts in notes.items()]


def _doubt(value: Decimal) -> Decimal:
    """Two significant digits, rounded up: a doubt is never made smaller (GUM 7.2.6)."""
    place = value.adjusted() - 1
    exponent = value.as_tuple().exponent
    if isinstance(exponent, int) and exponent >= place:
        return value
    return value.quantize(Decimal(1).scaleb(place), rounding=ROUND_UP)


def _cautions(job: Job, body: dict[str, Any]) -> Iterable[Any]:
    """Of every step that was opened, each once."""
    opened = {row["step"] for row in body["steps"]}
    return list(dict.fromkeys(one for step in job.sheet.steps if step.id in opened for one in step.cautions))


def _cut_off(body: dict[str, Any], zone: Zone) -> list[str]:
    """What of the journal was being written when its process ended, and never counted."""
    found = [
        f"{zone.of(row['at'])}: the end of the journal had been cut off ({row['torn_bytes']} bytes set aside). What "
        "was said last before that is not in it."
        for row in body["interruptions"]
        if row["torn_bytes"]
    ]
    if torn := body["journal"]["torn_bytes"]:
        found.append(f"The end of this journal is cut off ({torn} bytes). What was said last is not in it.")
    return found
