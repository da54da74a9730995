"""The part of the builder that deals in figures: limits and their tables, torques, instruments, readings."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from bench_voice.core.sheet import Limit, LimitRow, ReadingSpec, TorqueStage
from bench_voice.sheets import models
from bench_voice.sheets.resolve import Resolver
from bench_voice.sheets.spread import Env
from bench_voice.sheets.torque import limit_of_torque, stages_of
from bench_voice.sheets.yamltext import Path_
from bench_voice.words.units import convert, dimension_name, same_dimension


class Figures(Resolver):
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
        low, high = limit.ends()
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
