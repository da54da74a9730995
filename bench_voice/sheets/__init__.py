"""Job sheets: YAML in, a proofread `core.sheet.JobSheet` or a list of faults out."""

from bench_voice.sheets.faults import MESSAGES, Fault, SheetFaults
from bench_voice.sheets.load import check_file, check_text, load_sheet, load_text
from bench_voice.sheets.pages import json_schema, needs_list, schema_text, start_sheet_text
from bench_voice.sheets.proofread import proofread

__all__ = [
    "MESSAGES",
    "Fault",
    "SheetFaults",
    "check_file",
    "check_text",
    "json_schema",
    "load_sheet",
    "load_text",
    "needs_list",
    "proofread",
    "schema_text",
    "start_sheet_text",
]
