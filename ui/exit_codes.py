"""What a command ends with. What a photo shows is advice, and never an exit code."""

from __future__ import annotations

EXIT_FAILED = 1
EXIT_SOME_UNREAD = 3
EXIT_STOPPED = 130
