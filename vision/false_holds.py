"""How many photographs without a fabrication's seam are held: a folder in, a table out.

    python -m vision.false_holds photos/tools photos/landscapes --json rows.jsonl

Every source is a group of its own, and a row of the table. What the photographs show is for a
person to see to: none may show a piece with a seam around it or at an outlet's root. With
`--against FOLDER` another network reads the same photographs; McNemar's exact test says whether the
two differ. No number may be tuned on photographs that are reported on.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from fittings.words import ADVISORY, Kind, Reading
from models.weights import WeightsError
from vision.errors import PhotoUnreadable
from vision.exam_lines import Count, count
from vision.exam_rows import ReadsBytes
from vision.metrics import mcnemar_p
from vision.read import Reader
from vision.sources import find_photos, shown

NETWORK, OTHER = "network", "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What one reader said of one photograph; both are words of the project."""

    reading: str
    kind: str
    fabricated_probability: float

    @property
    def held(self) -> bool:
        return self.reading == Reading.FABRICATION_SEAM.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One photograph: its group, and what each reader said of it; `said` is empty when it could not
    be read, and `problem` then says why."""

    group: str
    photo: str
    said: Mapping[str, Said]
    problem: str = ""


def rows(sources: Iterable[Path], readers: Mapping[str, ReadsBytes]) -> Iterator[Row]:
    """A row for each photograph of each source, in order, as it is read."""
    for source in sources:
        group = shown(str(source))
        for found in find_photos([source]):
            if isinstance(found.content, PhotoUnreadable):
                yield Row(group=group, photo=found.name, said={}, problem=found.content.message)
            else:
                yield _row(group, found.name, found.content, readers)


def _row(group: str, photo: str, data: bytes, readers: Mapping[str, ReadsBytes]) -> Row:
    said = {}
    for name, reader in readers.items():
        outcome = reader.read_bytes(data, photo)
        if outcome.reading is None:
            problem = "" if outcome.error is None else outcome.error.message
            return Row(group=group, photo=photo, said={}, problem=problem)
        said[name] = Said(
            reading=outcome.reading.verdict.reading.value,
            kind=outcome.reading.kind.value,
            fabricated_probability=round(outcome.reading.verdict.fabricated_probability, 4),
        )
    return Row(group=group, photo=photo, said=said)


def table(all_rows: Sequence[Row], readers: Sequence[str]) -> str:
    """Counts with Wilson intervals by group and over all, and what was held, likeliest first."""
    read = [row for row in all_rows if row.said]
    groups = list(dict.fromkeys(row.group for row in read))
    if not read:
        return "No photograph was read."
    lines = []
    for name in readers:
        lines.append(f"{name}: held / taken for a fitting")
        lines += [_line(each, name, [row for row in read if row.group == each]) for each in groups]
        if len(groups) > 1:
            lines.append(_line("together", name, read))
        mistaken = [row for row in read if row.said[name].held]
        for row in sorted(mistaken, key=lambda r: -r.said[name].fabricated_probability):
            said = row.said[name]
            lines.append(f"    {said.fabricated_probability:.2f} {said.kind}: {row.photo}")
    if len(readers) > 1:
        first, second = ([row.said[name].held for row in read] for name in readers[:2])
        only_first = sum(a and not b for a, b in zip(first, second, strict=True))
        only_second = sum(b and not a for a, b in zip(first, second, strict=True))
        p_value = mcnemar_p(only_first, only_second)
        lines.append(
            f"held by {readers[0]} alone {only_first}, by {readers[1]} alone {only_second}; "
            f"McNemar's exact test p = {p_value:.2g}"
        )
    return "\n".join(lines)


def _line(title: str, name: str, some: Sequence[Row]) -> str:
    held = count(row.said[name].held for row in some)
    taken = count(row.said[name].kind != Kind.NONE.value for row in some)
    return f"  {title}: {_share(held)} / {_share(taken)}"


def _share(of: Count) -> str:
    low, high = of.interval
    return f"{of.found}/{of.of} {100 * of.share:.1f} % [{100 * low:.1f}, {100 * high:.1f}]"


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; 0 when done, 1 when it could not be, 2 for wrong usage, 3 with some unread."""
    options = _parser().parse_args(arguments)
    try:
        readers = {NETWORK: Reader.load()}
        if options.against is not None:
            readers[OTHER] = Reader.load(folder=options.against)
        if options.json is not None:
            options.json.open("x", encoding="utf-8").close()
    except WeightsError as error:
        print(error, file=sys.stderr)
        return 1
    except OSError as error:
        print(f"{options.json} can't be begun ({error}). Give another file.", file=sys.stderr)
        return 1
    made = []
    for row in rows(options.sources, readers):
        made.append(row)
        if row.problem:
            print(f"{row.group}: {row.problem}", file=sys.stderr)
        if options.json is not None:
            with options.json.open("a", encoding="utf-8") as file:
                file.write(json.dumps(asdict(row)) + "\n")
    for name, reader in readers.items():
        print(f"{name}: version {reader.version} {reader.sha256[:12]}")
    print(table(made, list(readers)))
    print(ADVISORY, file=sys.stderr)
    return 3 if any(row.problem for row in made) else 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m vision.false_holds",
        description="Count false holds on photographs that show no fabrication's seam.",
    )
    parser.add_argument(
        "sources", type=Path, nargs="+", metavar="FOLDER", help="or a photograph, ZIP or PDF"
    )
    parser.add_argument(
        "--against", type=Path, metavar="FOLDER", help="another network's weights and card as well"
    )
    parser.add_argument(
        "--json", type=Path, metavar="FILE", help="write each photograph's row to this new file"
    )
    return parser


if __name__ == "__main__":
    sys.exit(main())
