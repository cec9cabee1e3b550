"""What can be set from outside: environment variables `FLUTEBENCH_*`, what systemd keeps encrypted for the service, or
`settings.toml` in the data folder."""

import ipaddress
import os
import shlex
from pathlib import Path
from urllib.parse import urlsplit

from pydantic import Field, field_validator
from pydantic_settings import (
    BaseSettings,
    PydanticBaseSettingsSource,
    SecretsSettingsSource,
    SettingsConfigDict,
    TomlConfigSettingsSource,
)
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError

from webapp.security import credentials

ENCRYPTED = ("require", "verify-ca", "verify-full")
"""Values of libpq's sslmode that never fall back to a plain connection (PostgreSQL documentation, 34.19)."""


def travels_plain(address: str) -> bool:
    """Whether a PostgreSQL address leads to another computer over a connection that may be plain."""
    url = make_url(address)
    query = {name: value if isinstance(value, str) else value[-1] for name, value in url.query.items()}
    hosts = (query.get("hostaddr") or query.get("host") or url.host or os.environ.get("PGHOST", "")).split(",")
    mode = query.get("sslmode") or os.environ.get("PGSSLMODE", "")
    return mode not in ENCRYPTED and not all(_is_here(host) for host in hosts)


def database_address(value: str) -> str:
    """The address of a database, where the program may use it. Raises ValueError with why it may not."""
    if not value.startswith(("sqlite:///", "postgresql+psycopg://")):
        raise ValueError("must start with sqlite:/// or postgresql+psycopg://")
    try:
        plain = value.startswith("postgresql") and travels_plain(value)
    except (ArgumentError, ValueError):
        raise ValueError("is not an address: postgresql+psycopg://user@host/name") from None
    if plain:
        raise ValueError(
            "leads to another computer without encryption: add ?sslmode=verify-full (with &sslrootcert=FILE where the "
            "certificate is of your own making)"
        )
    return value


def _is_here(host: str) -> bool:
    """Whether a host is this computer: a folder of sockets, its own name, a loopback address."""
    host = host.rpartition(":")[0] if host.count(":") == 1 else host
    if host in ("", "localhost") or host.startswith(("/", "@")):
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


class Settings(BaseSettings):
    """One declarative table; every field is described here and nowhere else."""

    model_config = SettingsConfigDict(env_prefix="FLUTEBENCH_", extra="forbid")

    data: Path = Field(default=Path("data"), description="Folder of the database, its backups and photos.")
    database_url: str = Field(
        default="", description="Empty for SQLite in the data folder, or postgresql+psycopg://user@host/name."
    )
    backups: Path | None = Field(
        default=None, description="Folder for backups, best on another disk; empty: backups in the data folder."
    )
    backup_hours: int = Field(
        default=24, ge=0, le=24 * 31, description="A backup is made this often while the shop runs; 0: never by itself."
    )
    host: str = Field(default="127.0.0.1", description="Address to listen on; 0.0.0.0 for the shop's network.")
    port: int = Field(default=8000, ge=0, le=65535)
    public_url: str = Field(
        default="", description="How tablets reach the shop, for the QR codes; empty: the address being used."
    )
    hosts: str = Field(
        default="",
        description="Further names, with commas between, by which the shop is reached from the open internet; names of "
        "a local network and IP addresses are always taken.",
    )
    proxies: str = Field(
        default="",
        description="Addresses, with commas between, of reverse proxies whose X-Forwarded headers are believed.",
    )
    log_json: bool = Field(default=False, description="One JSON object a line in the log, for programs that read it.")
    metrics_token: str = Field(
        default="", description="Who sends it as a Bearer token may read /metrics; without one, only this machine may."
    )
    session_days: int = Field(default=30, ge=1, le=366, description="How long a sign-in lasts unused.")
    largest_form: int = Field(default=1_000_000, ge=10_000, description="Bytes a form may hold.")
    largest_photo: int = Field(
        default=25_000_000, ge=100_000, le=64_000_000, description="Bytes that one picture or paper sent in may hold."
    )
    scan_command: str = Field(
        default="",
        description="A virus scanner that reads pictures and papers from its standard input before they are opened, "
        "and ends with 1 where it finds something, such as clamdscan -; empty for none.",
    )
    largest_recording: int = Field(
        default=30_000_000, ge=100_000, le=64_000_000, description="Bytes a recording sent to the bench may hold."
    )

    @field_validator("public_url")
    @classmethod
    def _a_web_address(cls, value: str) -> str:
        if value and not value.startswith(("http://", "https://")):
            raise ValueError("must start with http:// or https://")
        return value.rstrip("/")

    @field_validator("database_url")
    @classmethod
    def _a_known_database(cls, value: str) -> str:
        return database_address(value) if value else value

    @field_validator("scan_command")
    @classmethod
    def _a_command(cls, value: str) -> str:
        try:
            shlex.split(value)
        except ValueError as error:
            raise ValueError(f"is no command: {error}") from None
        return value

    @property
    def scan(self) -> list[str]:
        """The virus scanner's command, in words."""
        return shlex.split(self.scan_command)

    @property
    def backup_folder(self) -> Path:
        return self.backups or self.data / "backups"

    @property
    def known_hosts(self) -> list[str]:
        """The names of the setting, and the one in the public address."""
        named = [name.strip() for name in self.hosts.split(",") if name.strip()]
        return [*named, urlsplit(self.public_url).hostname or ""]

    @property
    def database(self) -> str:
        """The address of the database, whether given or made from the data folder."""
        return self.database_url or f"sqlite:///{(self.data / 'shop.sqlite3').resolve()}"

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Arguments first, then the environment, systemd's credentials, `settings.toml` in the data folder."""
        folder = Path(os.environ.get("FLUTEBENCH_DATA", "data"))
        secrets = credentials.folder()
        return (
            init_settings,
            env_settings,
            *([SecretsSettingsSource(settings_cls, secrets_dir=secrets)] if secrets else []),
            TomlConfigSettingsSource(settings_cls, toml_file=folder / "settings.toml"),
        )
