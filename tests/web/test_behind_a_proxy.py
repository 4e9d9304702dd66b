"""Behind Caddy with the configuration for a studio without internet, as `deploy/` has it.

Where no caddy is installed this is left out: Debian's package would start a server of its own on a
developer's machine, so only `.ci/run` installs it.
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import ssl
import subprocess
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest
from tests.web.conftest import PASSWORD, Served

DEPLOY = Path(__file__).parents[2] / "deploy"
CADDY = shutil.which("caddy")
NAME = "localhost"

pytestmark = pytest.mark.skipif(CADDY is None, reason="no caddy here")


@dataclass(frozen=True)
class Proxied:
    """A school behind a proxy."""

    https: str
    http: str
    authority: Path
    """The certificate that a device must trust."""

    def visitor(self) -> httpx.Client:
        """Somebody whose device trusts the authority."""
        return httpx.Client(
            base_url=self.https, verify=ssl.create_default_context(cafile=self.authority)
        )


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as found:
        return int(found.getsockname()[1])


def configured(house: Served, https: int, http: int) -> str:
    """The studio's configuration with other names and ports, and no second server for settings."""
    text = (DEPLOY / "no-internet.caddy").read_text("utf-8")
    for old, new in (
        ("https://standfast.lan {", f"https://{NAME}:{https} {{"),
        ("http://standfast.lan {", f"http://{NAME}:{http} {{"),
        ("reverse_proxy 127.0.0.1:8000", f"reverse_proxy {house.address.removeprefix('http://')}"),
        (
            "skip_install_trust",
            f"skip_install_trust\n\tadmin off\n\thttp_port {http}\n\thttps_port {https}",
        ),
    ):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


@pytest.fixture
def proxied(house: Served, tmp_path: Path) -> Iterator[Proxied]:
    https, http = free_port(), free_port()
    config = tmp_path / "Caddyfile"
    config.write_text(configured(house, https, http), "utf-8")
    root = tmp_path / "data" / "caddy"
    settings = {"XDG_DATA_HOME": str(tmp_path / "data"), "CADDY_ROOT": str(root)}
    command = [str(CADDY), "run", "--adapter", "caddyfile", "--config", str(config)]
    with subprocess.Popen(
        command, env=os.environ | settings, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as running:
        found = Proxied(
            f"https://{NAME}:{https}",
            f"http://{NAME}:{http}",
            root / "pki" / "authorities" / "local" / "root.crt",
        )
        try:
            wait_for(found, running)
            yield found
        finally:
            running.terminate()


def wait_for(found: Proxied, running: subprocess.Popen[bytes]) -> None:
    for _ in range(200):
        assert running.poll() is None, "caddy did not start"
        if found.authority.exists():
            with found.visitor() as visitor, suppress(httpx.TransportError):
                if visitor.get("/health").is_success:
                    return
        time.sleep(0.05)
    raise AssertionError("no answer through the proxy")


def test_one_signs_in_through_the_proxy_and_the_cookie_never_leaves_https(proxied: Proxied) -> None:
    with proxied.visitor() as visitor:
        answer = visitor.post("/sign-in", data={"login": "office", "password": PASSWORD})
        cookie = answer.headers["set-cookie"]
        page = visitor.get("/people", headers={"accept-encoding": "gzip"})

    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/")
    assert {"Secure", "HttpOnly", "Path=/"} <= {part.strip() for part in cookie.split(";")}
    assert page.status_code == 200
    assert page.headers["strict-transport-security"]
    assert "default-src 'none'" in page.headers["content-security-policy"]
    assert page.headers["content-encoding"] == "gzip"


def test_a_device_gets_the_authority_over_plain_http_and_nothing_else(proxied: Proxied) -> None:
    with httpx.Client() as stranger:
        for path in ("/", "/people", "/../local/root.key", "/root.key"):
            answer = stranger.get(f"{proxied.http}{path}")

            assert answer.content == proxied.authority.read_bytes()
            assert answer.headers["content-type"] == "application/x-x509-ca-cert"


def test_a_device_that_does_not_trust_the_authority_gets_no_page(proxied: Proxied) -> None:
    with httpx.Client() as stranger, pytest.raises(httpx.ConnectError, match="certificate"):
        stranger.get(f"{proxied.https}/health")


def test_another_site_cannot_send_through_the_proxy(proxied: Proxied) -> None:
    with proxied.visitor() as visitor:
        form = {"login": "office", "password": PASSWORD}
        crossed = visitor.post(
            "/sign-in", data=form, headers={"origin": "https://elsewhere.example"}
        )
        own = visitor.post("/sign-in", data=form, headers={"origin": proxied.https})

    assert (crossed.status_code, own.status_code) == (403, 303)


def test_failures_count_for_who_really_asks_whatever_she_says_of_herself(proxied: Proxied) -> None:
    with proxied.visitor() as visitor:
        told = [
            visitor.post(
                "/sign-in",
                data={"login": f"guess-{n}", "password": "no such words here"},
                headers={"x-forwarded-for": f"203.0.113.{n}"},
            ).status_code
            for n in range(22)
        ]

    assert told[:20] == [403] * 20
    assert told[20:] == [429] * 2


@pytest.mark.parametrize("name", ["no-internet", "public-files", "public-name"])
def test_caddy_understands_each_configuration(name: str) -> None:
    file = DEPLOY / f"{name}.caddy"
    command = [str(CADDY), "adapt", "--adapter", "caddyfile", "--config", str(file)]
    told = subprocess.run(command, capture_output=True, check=False)

    assert told.returncode == 0, told.stderr
    assert json.loads(told.stdout)["apps"]["http"]["servers"]


def test_the_public_files_are_served_as_what_they_are(tmp_path: Path) -> None:
    port, site = free_port(), tmp_path / "site"
    for name in ("issuer.json", "status/revocation-1.json", "v/index.html"):
        (site / name).parent.mkdir(parents=True, exist_ok=True)
        (site / name).write_text("{}", "utf-8")
    text = (DEPLOY / "public-files.caddy").read_text("utf-8")
    for old, new in (
        ("files.example.org {", f"{{\n\tadmin off\n}}\nhttp://127.0.0.1:{port} {{"),
        ("/srv/standfast/site", str(site)),
    ):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    config = tmp_path / "Caddyfile"
    config.write_text(text, "utf-8")
    command = [str(CADDY), "run", "--adapter", "caddyfile", "--config", str(config)]
    settings = {"XDG_DATA_HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path)}
    with (
        subprocess.Popen(command, env=os.environ | settings, stderr=subprocess.DEVNULL) as running,
        httpx.Client(
            base_url=f"http://127.0.0.1:{port}", transport=httpx.HTTPTransport(retries=8)
        ) as visitor,
    ):
        found = {name: visitor.get(f"/{name}") for name in ("issuer.json", "v", "v/")}
        running.terminate()

    assert found["issuer.json"].headers["content-type"] == "application/json"
    assert found["issuer.json"].headers["access-control-allow-origin"] == "*"
    assert found["v/"].headers["content-type"].startswith("text/html")
    assert (found["v"].status_code, found["v"].headers["location"]) == (308, "/v/")
