"""What goes out: the report of a lot, the request to a yard, the notice, and the readings as files.

    from ui.reports import as_pdf, as_text, gather, lot_report, notice_of, view_request

    facts = gather(records, lot.uid)                         # once; everything after it is pure
    pdf = as_pdf(lot_report(facts, records.store.read))      # progress=… tells each piece
    request = view_request(facts)
    text, pdf = as_text(request), as_pdf(request)
    for_yard = as_pdf(notice_of(facts, piece.uid, records.store.read))
    table, lines = lot_csv(facts), "".join(lot_json_lines(facts))

The same records give the same bytes: a report carries the time of the newest entry that it rests
on, never the time when it was made. Pictures in it are drawn anew and carry nothing that the camera
wrote.
"""

from __future__ import annotations

from ui.reports.facts import LotFacts, gather
from ui.reports.lot_report import lot_report
from ui.reports.notice import notice, notice_of
from ui.reports.paper import as_pdf
from ui.reports.plain import as_text
from ui.reports.readings import lot_csv, lot_json_lines
from ui.reports.request import Wanted, view_request, wanted_of
from ui.reports.together import ToldTogether, told_together

__all__ = [
    "LotFacts",
    "ToldTogether",
    "Wanted",
    "as_pdf",
    "as_text",
    "gather",
    "lot_csv",
    "lot_json_lines",
    "lot_report",
    "notice",
    "notice_of",
    "told_together",
    "view_request",
    "wanted_of",
]
