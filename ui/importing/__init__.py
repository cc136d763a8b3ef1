"""What comes in: photos from anywhere, matched to the pieces of a lot, kept and read.

    from ui.importing import Matcher, Receiver, Rules, from_uploads, parse_pattern, preview

    rules = Rules(pattern=parse_pattern("{piece}-*.jpg"))      # or Rules(): folder, name, words
    matcher = Matcher([piece.tag for piece in records.pieces(lot.uid)], rules)
    shown = preview(from_uploads(files), matcher)              # stores nothing
    shown = shown.with_hand("IMG_9.jpg", "P-07")               # what a person corrects …
    matcher = Matcher(matcher.tags, replace(rules, by_hand=shown.by_hand))   # … counts first
    receiver = Receiver(records, lot.uid, reader, matcher, by="A. Inspector")
    for received in receiver.receive(from_uploads(files)):     # each kept as it is done
        ...

To go on with an import that was stopped, start it again with the same sources; without any
(`receive(())`) it reads what was stored and not read. A photo without a piece is placed later with
`records.place_photo`.
"""

from __future__ import annotations

from ui.importing.incoming import Incoming, from_paths, from_uploads, preview
from ui.importing.matching import Match, Matcher, Preview, Rules, Way, Words
from ui.importing.patterns import Pattern, PatternError, parse_pattern
from ui.importing.receiving import Received, Receiver

__all__ = [
    "Incoming",
    "Match",
    "Matcher",
    "Pattern",
    "PatternError",
    "Preview",
    "Received",
    "Receiver",
    "Rules",
    "Way",
    "Words",
    "from_paths",
    "from_uploads",
    "parse_pattern",
    "preview",
]
