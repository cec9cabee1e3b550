"""Settings: environment over file, bad values refused by name."""

from pathlib import Path

import pytest
from pydantic import ValidationError

from webapp.settings import Settings


def test_the_environment_wins_over_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "settings.toml").write_text('port = 9001\npublic_url = "http://bench.example:9001/"\n')
    monkeypatch.setenv("FLUTEBENCH_DATA", str(tmp_path))
    monkeypatch.setenv("FLUTEBENCH_PORT", "9002")
    settings = Settings()
    assert (settings.port, settings.public_url) == (9002, "http://bench.example:9001")
    assert settings.database == f"sqlite:///{tmp_path / 'shop.sqlite3'}"


@pytest.mark.parametrize(
    ("name", "value"),
    [("port", "70000"), ("public_url", "ftp://x"), ("database_url", "mysql://x"), ("session_days", "0")],
)
def test_a_bad_setting_is_named(monkeypatch: pytest.MonkeyPatch, name: str, value: str) -> None:
    monkeypatch.setenv(f"FLUTEBENCH_{name.upper()}", value)
    with pytest.raises(ValidationError) as refused:
        Settings()
    assert refused.value.errors()[0]["loc"] == (name,)


def test_an_unknown_setting_in_the_file_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "settings.toml").write_text("prot = 9001\n")
    monkeypatch.setenv("FLUTEBENCH_DATA", str(tmp_path))
    with pytest.raises(ValidationError, match="prot"):
        Settings()
