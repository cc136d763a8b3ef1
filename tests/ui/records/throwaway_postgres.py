"""A PostgreSQL of the machine's own packages, started for the tests and thrown away after them."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import URL


def binaries() -> Path | None:
    """The folder of initdb and pg_ctl, newest version first; None where there is none."""
    on_path = shutil.which("initdb")
    if on_path is not None:
        return Path(on_path).resolve().parent
    found = Path("/usr/lib/postgresql").glob("*/bin/initdb")
    return max((each.parent for each in found), key=lambda p: float(p.parent.name), default=None)


@contextmanager
def running(folder: Path) -> Iterator[URL]:
    """The address of the server's first database. It listens on a socket in its folder only."""
    home = Path(tempfile.mkdtemp(prefix="pg-", dir="/tmp"))  # a socket's path must be short
    try:
        as_owner: list[str] = []
        if os.geteuid() == 0:  # the server refuses to run as root; the package made this user
            owner = pwd.getpwnam("postgres")
            os.chown(home, owner.pw_uid, owner.pw_gid)
            as_owner = ["runuser", "-u", "postgres", "--"]
        data = home / "data"
        _run(
            *as_owner,
            str(folder / "initdb"),
            *("-D", str(data), "-U", "tester", "-A", "trust", "-E", "UTF8", "--no-sync"),
            "--locale=C",
        )
        options = f"-c listen_addresses='' -c unix_socket_directories='{home}' -c fsync=off"
        ctl = [*as_owner, str(folder / "pg_ctl"), "-D", str(data), "-w"]
        _run(*ctl, "-o", options, "-l", str(home / "log"), "start")
        try:
            yield URL.create(
                "postgresql+psycopg", "tester", database="postgres", query={"host": str(home)}
            )
        finally:
            _run(*ctl, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _run(*command: str) -> None:
    # To a file, not a pipe: the server keeps the pipe open for as long as it runs.
    with tempfile.TemporaryFile("w+", encoding="utf-8") as said:
        code = subprocess.run(
            command, stdout=said, stderr=said, stdin=subprocess.DEVNULL, cwd="/", check=False
        ).returncode
        said.seek(0)
        assert code == 0, f"{command[-1]}: {said.read()}"
