"""A lot's chain gone through from its start: is every entry whole, and was each step allowed?"""

from __future__ import annotations

from collections import defaultdict

from ui.records import rules
from ui.records.chain import Entry, What, broken_link
from ui.records.shapes import shape_problem
from ui.records.terms import Decision, Outcome

# What an entry brings into the lot under its "uid", and what it speaks of that must be there.
_BRINGS = {
    What.ORDER_LINE: "order line",
    What.PHOTO: "photo",
    What.READING: "reading",
    What.PIECE_READING: "piece reading",
    What.CHECK: "check",
}
_SPEAKS_OF = {
    What.PIECE: ("order_line",),
    What.PLACEMENT: ("photo", "piece"),
    What.READING: ("photo",),
    What.PIECE_READING: ("piece",),
    What.CERTIFICATE: ("order_line",),
    What.MEASUREMENT: ("piece",),
    What.CHECK: ("piece",),
    What.DECISION: ("piece",),
}


class Replay:
    """Follows one lot. `problem` is asked for each entry in turn."""

    def __init__(self) -> None:
        self.last: Entry | None = None
        self.photos: dict[str, int] = {}
        """Size in bytes of each photo of the lot, by sha256."""
        self._there: dict[str, set[str]] = defaultdict(set)
        self._tags: dict[str, str] = {}
        self._checks: dict[str, list[tuple[int, Outcome]]] = defaultdict(list)
        self._decisions: dict[str, list[tuple[int, Decision]]] = defaultdict(list)

    def problem(self, entry: Entry) -> str:
        """What is wrong with the next entry of the lot, in a few words; "" when nothing is."""
        # Both, so that an entry altered but still legible doesn't make those after it look wrong.
        link, step = broken_link(entry, self.last), self._step(entry)
        self.last = entry
        return link or step

    def _step(self, entry: Entry) -> str:
        if found := shape_problem(entry):
            return f"entry {entry.position}: {found}"
        if self.last is None and entry.what is not What.LOT:
            return f"entry {entry.position}: a lot begins with its description"
        facts = entry.facts
        for name in _SPEAKS_OF.get(entry.what, ()):
            if facts[name] is not None and facts[name] not in self._there[name]:
                return f"entry {entry.position}: it speaks of a {name.replace('_', ' ')} not there"
        found = self._brought(entry) or self._decided(entry)
        return f"entry {entry.position}: {found}" if found else ""

    def _brought(self, entry: Entry) -> str:
        facts = entry.facts
        if entry.what is What.PIECE:
            if self._tags.get(facts["tag"], facts["uid"]) != facts["uid"]:
                return "two pieces have the same tag"
            self._tags = {tag: uid for tag, uid in self._tags.items() if uid != facts["uid"]}
            self._tags[facts["tag"]] = facts["uid"]
            self._there["piece"].add(facts["uid"])
        elif entry.what in _BRINGS:
            there = self._there[_BRINGS[entry.what].replace(" ", "_")]
            if facts["uid"] in there:
                return "it was recorded before"
            there.add(facts["uid"])
            if entry.what is What.PHOTO:
                self.photos[facts["sha256"]] = facts["size_bytes"]
        return ""

    def _decided(self, entry: Entry) -> str:
        facts = entry.facts
        if entry.what is What.CHECK:
            self._checks[facts["piece"]].append((entry.position, Outcome(facts["outcome"])))
        elif entry.what is What.DECISION:
            decision = Decision(facts["decision"])
            before = self._decisions[facts["piece"]]
            state = rules.standing(self._checks[facts["piece"]], before)
            before.append((entry.position, decision))
            return rules.refusal(decision, state, entry.by)
        return ""
