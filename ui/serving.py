"""Starts the pages on this machine."""

from __future__ import annotations

import ipaddress
import socket
import subprocess
import sys
import time
import tomllib
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from vision.errors import SeamtriageError

APP = Path(__file__).parent / "app.py"
CONFIG = Path(__file__).parent / ".streamlit" / "config.toml"
DEFAULT_PORT = 8501
START_LIMIT_S = 60.0


class CannotServe(SeamtriageError):
    """The pages could not be started."""


def is_loopback(address: str) -> bool:
    """Whether only this machine can reach `address`."""
    if address == "localhost":
        return True
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def free_port(address: str, asked: int | None) -> int:
    """The port asked for; without one 8501, or any free port where that is taken.

    Raises CannotServe where the port asked for, or the address, can't be used.
    """
    for port in (asked,) if asked is not None else (DEFAULT_PORT, 0):
        family = socket.AF_INET6 if ":" in address else socket.AF_INET
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            if sys.platform != "win32":
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((address, port))
            except OSError as error:
                problem = f"port {port} on {address} can't be used ({error.strerror or error})"
                continue
            return int(probe.getsockname()[1])
    raise CannotServe(f"{problem}. Choose another with --port.")


def streamlit_command(app: Path, address: str, port: int) -> list[str]:
    """The command that serves `app` with the project's settings, wherever it is started from."""
    with CONFIG.open("rb") as stream:
        settings = tomllib.load(stream)
    settings["server"].update(address=address, port=port)
    flags = [
        f"--{name}={str(value).lower() if isinstance(value, bool) else value}"
        for name, value in _flat(settings)
    ]
    return [sys.executable, "-m", "streamlit", "run", str(app), *flags]


def _flat(settings: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Each setting by its whole name, "theme.dark.textColor"."""
    for key, value in settings.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{above}{key}.")
        else:
            yield above + key, value


@contextmanager
def served(address: str, port: int, app: Path = APP) -> Iterator[subprocess.Popen[bytes]]:
    """The pages, answering at `address`:`port` for as long as the block runs.

    Raises CannotServe where they don't come up within a minute.
    """
    process = subprocess.Popen(
        streamlit_command(app, address, port), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL
    )
    try:
        _wait_until_well(process, address, port)
        yield process
    finally:
        process.terminate()
        try:
            process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def page_address(address: str, port: int) -> str:
    """What to type into a browser."""
    host = f"[{address}]" if ":" in address else address
    return f"http://{host}:{port}"


def _wait_until_well(process: subprocess.Popen[bytes], address: str, port: int) -> None:
    own = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(address, address)
    url = page_address(own, port) + "/_stcore/health"
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    end = time.monotonic() + START_LIMIT_S
    while time.monotonic() < end:
        if process.poll() is not None:
            raise CannotServe(f"the pages stopped at once (exit code {process.returncode}).")
        try:
            with opener.open(url, timeout=2) as answer:
                if answer.status == 200:
                    return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise CannotServe(f"the pages did not answer at {url} within {START_LIMIT_S:.0f} seconds.")
