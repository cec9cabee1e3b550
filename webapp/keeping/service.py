"""The unit file by which systemd keeps the shop running, written for where this program really lies."""

import getpass
import sys
from pathlib import Path

from webapp.security import credentials
from webapp.settings import Settings

_HOMES = ("/home", "/root", "/run/user")
UNIT = """\
[Unit]
Description=Flutebench, the flute shop's own web app
After=network-online.target postgresql.service
Wants=network-online.target

[Service]
Type=exec
User={user}
WorkingDirectory={folder}
Environment="FLUTEBENCH_DATA={data}"
ExecStart={command} serve
{credentials}Restart=on-failure
RestartSec=5
# Only the program itself is told to end: it answers what is under way, hands on what it was calculating, and ends its
# workers. What is left after that is killed.
KillMode=mixed
KillSignal=SIGTERM
TimeoutStopSec=60
UMask=0077
# It may write here and nowhere else.
ProtectSystem=strict
ReadWritePaths={writable}
CacheDirectory=flutebench
CacheDirectoryMode=0700
ProtectHome={home}
PrivateTmp=yes
PrivateDevices=yes
ProtectProc=invisible
# It needs no power over the machine.
NoNewPrivileges=yes
CapabilityBoundingSet={capabilities}
AmbientCapabilities={capabilities}
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
RemoveIPC=yes
LockPersonality=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallErrorNumber=EPERM

[Install]
WantedBy=multi-user.target
"""


def unit(settings: Settings, user: str = "", store: Path = credentials.STORE) -> str:
    """The text of the unit; `store`: where secrets lie that systemd keeps encrypted for the service.

    Paths are quoted as systemd.syntax(7) asks: a percent sign is doubled.
    """
    data = settings.data.resolve()
    command = Path(sys.argv[0]).resolve()
    if command.name != "flutebench":
        command = Path(sys.executable).with_name("flutebench")
    backups = settings.backup_folder.resolve()
    # A folder of its own for backups may be a disk that is not there at the moment: that must not keep the shop closed.
    writable = [_quoted(data)] + ([] if backups.is_relative_to(data) else [_quoted(backups, "-")])
    at_home = any(path.is_relative_to(home) for path in (data, command, Path(sys.base_prefix)) for home in _HOMES)
    return UNIT.format(
        user=user or getpass.getuser(),
        folder=_plain(data),
        data=_plain(data),
        command=_quoted(command),
        credentials="".join(f"LoadCredentialEncrypted={file.name}:{file}\n" for file in credentials.stored(store)),
        writable=" ".join(writable),
        home="read-only" if at_home else "yes",
        # Ports below 1024, such as 443, are the system's to give.
        capabilities="CAP_NET_BIND_SERVICE" if 0 < settings.port < 1024 else "",
    )


def _plain(path: Path) -> str:
    return str(path).replace("%", "%%")


def _quoted(path: Path, before: str = "") -> str:
    text = before + _plain(path)
    return f'"{text}"' if " " in text else text
