"""What travels: TLS as the program really serves it, and cookies behind a proxy that speaks TLS for it.

Sources: OWASP ASVS 4.0.3, 3.4.1, 9.1.2, 9.1.3; RFC 9325 (recommendations for TLS), 3.1.1 and 4.2.
"""

import ssl
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from fastapi import FastAPI
from fastapi.testclient import TestClient
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from tests.shops import PASSWORD
from webapp import cli
from webapp.keeping import certificates
from webapp.settings import Settings


def served(monkeypatch: pytest.MonkeyPatch, settings: Settings) -> dict[str, Any]:
    """What the program asks of its server."""
    asked: dict[str, Any] = {}
    monkeypatch.setattr(uvicorn, "run", lambda app, **how: asked.update(how, app=app))
    monkeypatch.setattr(cli.logs, "set_up", lambda **_: None)
    cli._serve(settings)
    return asked


def test_tls_is_of_today_with_strong_ciphers_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    certificates.make(tmp_path, ["bench.local"])
    asked = served(monkeypatch, Settings(data=tmp_path))
    config = uvicorn.Config(**asked)
    config.load()
    assert isinstance(config.ssl, ssl.SSLContext)
    assert config.ssl.minimum_version >= ssl.TLSVersion.TLSv1_2
    names = [cipher["name"] for cipher in config.ssl.get_ciphers()]
    assert len(names) > 3
    assert [n for n in names if not n.startswith(("TLS_", "ECDHE-")) or not ("GCM" in n or "CHACHA20" in n)] == []
    assert (asked["server_header"], asked["proxy_headers"], asked["access_log"]) == (False, False, False)


def test_forwarded_headers_are_believed_from_the_setting_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = served(monkeypatch, Settings(data=tmp_path))
    assert (plain["proxy_headers"], plain["forwarded_allow_ips"], plain["ssl_certfile"]) == (False, None, None)
    behind = served(monkeypatch, Settings(data=tmp_path, proxies="192.0.2.1"))
    assert (behind["proxy_headers"], behind["forwarded_allow_ips"]) == (True, "192.0.2.1")


@pytest.mark.parametrize("migrated_database_url", ["sqlite"], indirect=True)
@pytest.mark.usefixtures("open_shop")
def test_behind_a_proxy_cookies_are_for_https_alone(app: FastAPI) -> None:
    told = {"x-forwarded-proto": "https", "origin": "https://testserver", "host": "testserver"}
    entering = {"sign_in_name": "ines", "password": PASSWORD}
    for believed in ("testclient", "192.0.2.1"):
        browser = TestClient(ProxyHeadersMiddleware(app, trusted_hosts=believed), follow_redirects=False)
        cookies = browser.post("/sign-in", data=entering, headers=told).headers.get_list("set-cookie")
        assert len(cookies) == 2
        for cookie in cookies:
            over_tls = believed == "testclient"
            assert (cookie.startswith("__Host-"), "; Secure" in cookie) == (over_tls, over_tls)
            assert "HttpOnly" in cookie and "SameSite=lax" in cookie and "Path=/" in cookie and "Domain" not in cookie
