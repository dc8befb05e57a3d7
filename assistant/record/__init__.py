"""The record: the only room that opens SQLite, and the only one that writes the store.

An answer is committed and synced here before anybody says that it was heard.
The names below are what other rooms may use.
"""

from assistant.record.aside import Opening, open_or_set_aside
from assistant.record.backup import Backup, back_up, restore
from assistant.record.chain import Damage, Link, Report
from assistant.record.days import DayRow, day_entries, planned_days, rail_entries
from assistant.record.exchange import export_lines, import_lines
from assistant.record.ledger import Ledger
from assistant.record.log import Log, Part
from assistant.record.personal import REMOVED, Clip, Personal
from assistant.record.read import Entry, Reader, SessionRow
from assistant.record.shopwork import Shopwork
from assistant.record.views import AnswerRow, CheckRow, FaultRow, SwapRow

__all__ = [
    "REMOVED",
    "AnswerRow",
    "Backup",
    "CheckRow",
    "Clip",
    "Damage",
    "DayRow",
    "Entry",
    "FaultRow",
    "Ledger",
    "Link",
    "Log",
    "Opening",
    "Part",
    "Personal",
    "Reader",
    "Report",
    "SessionRow",
    "Shopwork",
    "SwapRow",
    "back_up",
    "day_entries",
    "export_lines",
    "import_lines",
    "open_or_set_aside",
    "planned_days",
    "rail_entries",
    "restore",
]
