"""What the scheduler and the workers of a Dask cluster run of a batch: nothing here is run by us.

They import this module, so they must have the same seamtriage installed. Each function first makes
sure of that, so that a cluster never gives other readings than this machine would.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.metadata import version as package_version

from models.weights import WeightsError, load_weights
from ui.batch import Answer, Loader
from ui.screening import PhotoReader
from vision.errors import SeamtriageError


class WorkerDiffers(SeamtriageError):
    """A worker would not give the readings that this machine gives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One batch, as its workers know it: what they must have, and how they load their reader."""

    key: str
    package: str
    weights: str
    load: Loader = field(compare=False)

    @staticmethod
    def of_this_machine(load: Loader) -> Run:
        """A new batch, to be read with this package and these weights; WeightsError without."""
        return Run(
            key=f"seamtriage-{uuid.uuid4().hex}",
            package=package_version("seamtriage"),
            weights=load_weights().sha256,
            load=load,
        )


def scheduler_fits(run: Run) -> None:
    """On the scheduler, which must know our classes; WorkerDiffers where it has another package."""
    if (here := package_version("seamtriage")) != run.package:
        raise WorkerDiffers(f"has seamtriage {here}, this machine {run.package}.")


@lru_cache(maxsize=4)
def worker_reader(run: Run) -> PhotoReader:
    """On a worker: its reader for that batch, loaded once. WorkerDiffers where it is another."""
    scheduler_fits(run)
    try:
        reader = run.load(1)
    except WeightsError as error:
        raise WorkerDiffers(f"can't load the weights: {error}") from error
    if reader.sha256 != run.weights:
        raise WorkerDiffers(
            f"has other weights (sha256 {reader.sha256}) than this machine ({run.weights})."
        )
    return reader


def worker_fits(run: Run) -> None:
    """On a worker, before the first photo: loads the reader."""
    worker_reader(run)


def read_there(run: Run, data: bytes, name: str) -> Answer:
    """On a worker: what comes of one photo."""
    try:
        reader = worker_reader(run)
    except WorkerDiffers as error:
        from distributed import get_worker

        raise WorkerDiffers(f"worker {get_worker().address} {error}") from error
    outcome = reader.read_bytes(data, name)
    return outcome.reading, outcome.error
