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

from ui import sign_in
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


def allowed_hosts(address: str, *, insisted: bool = False) -> tuple[str, ...]:
    """The names by which browsers may ask for pages served at `address`; empty for any name.

    On loopback only this machine's own names, so that no foreign web page can reach the pages under
    a name of its own that it lets point here (DNS rebinding). Any other address raises CannotServe
    unless sign-in is set up, or the user insists on serving everybody.
    """
    if is_loopback(address):
        return tuple(dict.fromkeys(("localhost", "127.0.0.1", "::1", address)))
    try:
        section = sign_in.settings()
        if section is not None:
            return (sign_in.own_host(section),)
    except sign_in.SignInWrong as error:
        raise CannotServe(f"{address} can be reached from other machines, and {error}") from error
    if insisted:
        return ()
    raise CannotServe(
        f"{address} can be reached from other machines, and no sign-in is set up (DEVELOPERS.md "
        "says how). Give --insist-on-network as well to let in everybody who can reach it."
    )


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


def streamlit_command(app: Path, address: str, port: int, hosts: tuple[str, ...] = ()) -> list[str]:
    """The command that serves `app` with the project's settings, wherever it is started from.

    `hosts` as `allowed_hosts` gives them.
    """
    with CONFIG.open("rb") as stream:
        settings = tomllib.load(stream)
    settings["server"].update(address=address, port=port)
    flags = [
        f"--{name}={str(value).lower() if isinstance(value, bool) else value}"
        for name, value in _flat(settings)
    ]
    flags += [f"--server.allowedHosts={host}" for host in hosts]
    return [sys.executable, "-m", "streamlit", "run", str(app), *flags]


def _flat(settings: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Each setting by its whole name, "theme.dark.textColor"."""
    for key, value in settings.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{above}{key}.")
        else:
            yield above + key, value


@contextmanager
def served(
    address: str, port: int, app: Path = APP, *, insisted: bool = False
) -> Iterator[subprocess.Popen[bytes]]:
    """The pages, answering at `address`:`port` for as long as the block runs.

    Raises CannotServe where they don't come up within a minute, or may not listen there
    (`allowed_hosts`).
    """
    command = streamlit_command(app, address, port, allowed_hosts(address, insisted=insisted))
    process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
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
