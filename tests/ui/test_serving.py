"""Who can reach the pages: this machine alone, those who sign in, or everybody if insisted on."""

from __future__ import annotations

import ast
import base64
import os
import socket
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from ui import serving, sign_in
from ui.serving import CannotServe, allowed_hosts, free_port, served, streamlit_command

ROOT = Path(__file__).parents[2]
WHOLE = """[auth]
redirect_uri = "https://fittings.example/oauth2callback"
cookie_secret = "c"
client_id = "i"
client_secret = "s"
server_metadata_url = "https://id.example/.well-known/openid-configuration"
"""


@pytest.fixture
def secrets(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The only file of secrets, not there yet; Authlib counts as installed."""
    path = tmp_path / "secrets.toml"
    monkeypatch.setattr(sign_in, "secrets_files", lambda: (path,))
    monkeypatch.setattr(sign_in.importlib.util, "find_spec", lambda _: True)
    return path


@pytest.mark.parametrize("address", ["0.0.0.0", "::", "192.168.1.7", "yard.example"])
def test_other_addresses_are_refused_without_sign_in(address: str, secrets: Path) -> None:
    assert not secrets.exists()
    with pytest.raises(CannotServe, match="--insist-on-network"):
        allowed_hosts(address)
    with pytest.raises(CannotServe), served(address, 1):
        pytest.fail("it was served")
    assert allowed_hosts(address, insisted=True) == ()


def test_with_sign_in_they_answer_to_its_name_only(secrets: Path) -> None:
    secrets.write_text(WHOLE)
    assert allowed_hosts("0.0.0.0") == ("fittings.example",)
    assert allowed_hosts("0.0.0.0", insisted=True) == ("fittings.example",)
    command = streamlit_command(serving.APP, "0.0.0.0", 1, allowed_hosts("0.0.0.0"))
    assert "--server.allowedHosts=fittings.example" in command


@pytest.mark.parametrize("key", ["cookie_secret", "client_id", "server_metadata_url"])
def test_half_a_sign_in_is_none_even_if_insisted_on(key: str, secrets: Path) -> None:
    secrets.write_text("\n".join(line for line in WHOLE.split("\n") if not line.startswith(key)))
    with pytest.raises(CannotServe, match=key):
        allowed_hosts("0.0.0.0", insisted=True)


def test_secrets_that_can_not_be_read_keep_everybody_out(secrets: Path) -> None:
    secrets.write_text("[auth\n")
    with pytest.raises(CannotServe, match=r"secrets\.toml"):
        allowed_hosts("0.0.0.0", insisted=True)


def test_without_authlib_there_is_no_sign_in(
    secrets: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    secrets.write_text(WHOLE)
    monkeypatch.setattr(sign_in.importlib.util, "find_spec", lambda _: None)
    with pytest.raises(CannotServe, match="Authlib"):
        allowed_hosts("0.0.0.0")


def test_a_page_stops_before_its_content_until_one_has_signed_in(secrets: Path) -> None:
    def page() -> None:
        import streamlit as st

        from ui.sign_in import admit

        admit()
        st.write("What only those who signed in may see")

    assert [each.value for each in AppTest.from_function(page).run().markdown] != []
    secrets.write_text(WHOLE)
    shut = AppTest.from_function(page).run()
    assert [each.value for each in shut.markdown] == []
    assert shut.button(key="sign-in").label == "Sign in"


def test_uploads_are_limited_and_checked_for_their_origin() -> None:
    command = streamlit_command(serving.APP, "127.0.0.1", 1)
    assert "--server.enableXsrfProtection=true" in command
    assert "--server.enableCORS=true" in command
    assert "--server.maxUploadSize=200" in command


def test_a_page_under_a_foreign_name_gets_no_answer() -> None:
    """A name that somebody lets point at this machine (DNS rebinding), and a foreign origin."""
    port = free_port("127.0.0.1", None)
    with served("127.0.0.1", port):
        own = f"127.0.0.1:{port}"
        assert opened(port, host=own, origin=f"http://{own}") == 101
        assert opened(port, host="evil.example", origin="http://evil.example") == 403
        assert opened(port, host=own, origin="http://evil.example") == 403


def opened(port: int, *, host: str, origin: str) -> int:
    """HTTP status of asking for the page's WebSocket (RFC 6455, section 4.1)."""
    key = base64.b64encode(os.urandom(16)).decode()
    lines = [
        "GET /_stcore/stream HTTP/1.1", f"Host: {host}", f"Origin: {origin}", "Upgrade: websocket",
        "Connection: Upgrade", f"Sec-WebSocket-Key: {key}", "Sec-WebSocket-Version: 13",
    ]  # fmt: skip
    with socket.create_connection(("127.0.0.1", port), timeout=60) as line:
        line.sendall("\r\n".join([*lines, "", ""]).encode())
        return int(line.recv(4096).split()[1])


def test_nothing_is_unpickled_and_no_markup_is_let_through() -> None:
    """Session caches are Streamlit's own; nothing of ours loads objects from bytes."""
    banned = {"pickle", "cPickle", "cloudpickle", "dill", "shelve", "marshal", "joblib"}
    for folder in ("fittings", "synthetic", "models", "vision", "ui"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            for node in ast.walk(tree):
                names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
                if isinstance(node, ast.ImportFrom):
                    names = [node.module or ""]
                assert not banned & {name.partition(".")[0] for name in names}, path
                if isinstance(node, ast.Call) and ast.unparse(node.func) == "torch.load":
                    safe = {each.arg: ast.unparse(each.value) for each in node.keywords}
                    assert safe.get("weights_only") == "True", path
                if isinstance(node, ast.keyword) and node.arg in (
                    "unsafe_allow_html", "allow_pickle", "unsafe_allow_javascript",
                ):  # fmt: skip
                    assert getattr(node.value, "value", True) is False, path
