"""Job sheets: YAML in, a proofread `core.sheet.JobSheet` or a list of faults out."""

from bench_voice.sheets.faults import MESSAGES, Fault, SheetFaults
from bench_voice.sheets.load import check_file, check_text, load_sheet, load_text

__all__ = ["MESSAGES", "Fault", "SheetFaults", "check_file", "check_text", "load_sheet", "load_text"]
