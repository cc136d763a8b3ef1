"""The names under which a visit keeps its own things; they outlive a change of page."""

from __future__ import annotations


class Keys:
    """Session keys, all in one place."""

    CARDS = "own_cards"
    UPLOAD = "upload"
    READ = "read_photos"
    SAMPLES = "read_samples"
    CLEAR = "clear_list"
    CSV = "csv"
    JSON = "json_lines"
