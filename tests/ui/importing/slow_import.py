"""An import in its own process, to be killed: prints a line after each photo.

Arguments: the records' file, the lot, the folder of photos.
"""

import sys
from pathlib import Path

from tests.stand_in import StandInReader
from ui.importing.incoming import from_paths
from ui.importing.matching import Matcher
from ui.importing.receiving import Receiver
from ui.records import open_records

with open_records(sys.argv[1]) as records:
    lot = records.lot(sys.argv[2])
    matcher = Matcher([piece.tag for piece in records.pieces(lot.uid)])
    receiver = Receiver(records, lot.uid, StandInReader(), matcher, by="A. Inspector")
    for received in receiver.receive(from_paths([Path(sys.argv[3])])):
        print(received.name, flush=True)
