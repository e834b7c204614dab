"""Everything of the other layers that the desk uses, in one place: the desk computes and stores nothing of its own."""

from __future__ import annotations

from analyser.batch.processes import Failed, Slot
from analyser.batch.run import LOGBOOK_NAME, TIMEOUT_S
from analyser.batch.update import Pages, update
from analyser.batch.work import Answer, Job, debrief_job, page_name
from analyser.debrief import debrief, debrief_recording
from analyser.desk.html import Words, bullets, missing, table
from analyser.errors import (
    AnalyserError,
    FormatError,
    InputError,
    OutputError,
    SettingsError,
    UnreadableError,
)
from analyser.findings import CAUTIONS, PLAN_CAUTIONS
from analyser.frame import LocalFrame
from analyser.importers.read import read
from analyser.importers.source import MAX_FILE_BYTES, path_text
from analyser.logbook import Content, Logbook
from analyser.logbook.plans import FILE_NAME, Assignment, Plans
from analyser.logbook.scan import SUFFIXES, content_hash, scan
from analyser.logbook.table import TABLE_NAME
from analyser.logbook.toml_keys import LOGBOOK_KEYS
from analyser.report.page.controls import controls
from analyser.report.page.markup import Html
from analyser.report.page.shell import bundle_name, page, write_assets
from analyser.report.plain import escape
from analyser.settings import Settings, SitePicture
from analyser.settings.picture import MAX_PICTURE_BYTES
from analyser.settings.read_keys import Given, parse_given
from analyser.settings.schema import PLAN_KEYS
from analyser.settings.schema import UNITS as KEY_UNITS
from analyser.settings.toml import parse_target
from analyser.settings.winds import MeasuredTrim
from analyser.units import DISPLAY_SYSTEMS
from analyser.writing import write_text

__all__ = [
    "CAUTIONS",
    "DISPLAY_SYSTEMS",
    "FILE_NAME",
    "KEY_UNITS",
    "LOGBOOK_KEYS",
    "LOGBOOK_NAME",
    "MAX_FILE_BYTES",
    "MAX_PICTURE_BYTES",
    "PLAN_CAUTIONS",
    "PLAN_KEYS",
    "SUFFIXES",
    "TABLE_NAME",
    "TIMEOUT_S",
    "AnalyserError",
    "Answer",
    "Assignment",
    "Content",
    "Failed",
    "FormatError",
    "Given",
    "Html",
    "InputError",
    "Job",
    "LocalFrame",
    "Logbook",
    "MeasuredTrim",
    "OutputError",
    "Pages",
    "Plans",
    "Settings",
    "SettingsError",
    "SitePicture",
    "Slot",
    "UnreadableError",
    "Words",
    "bullets",
    "bundle_name",
    "content_hash",
    "controls",
    "debrief",
    "debrief_job",
    "debrief_recording",
    "escape",
    "missing",
    "page",
    "page_name",
    "parse_given",
    "parse_target",
    "path_text",
    "read",
    "scan",
    "table",
    "update",
    "write_assets",
    "write_text",
]
