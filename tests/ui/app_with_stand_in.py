"""The pages as they are, with the stand-in for the reader; served to the browser test."""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.stand_in import StandInReader  # noqa: E402
from ui import loading  # noqa: E402

loading.load_reader = StandInReader
if samples := sys.argv[1:]:
    loading.SAMPLES = Path(samples[0])
runpy.run_path(str(ROOT / "ui" / "app.py"))
