"""The unit file by which systemd keeps the shop running, written for where this program really lies."""

import getpass
import sys
from pathlib import Path

from webapp.settings import Settings

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
Restart=on-failure
RestartSec=5
# Requests that are under way are answered first; then whatever is left is ended.
KillSignal=SIGTERM
TimeoutStopSec=30
NoNewPrivileges=yes
PrivateTmp=yes
PrivateDevices=yes
ProtectSystem=strict
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectControlGroups=yes
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
RestrictSUIDSGID=yes
LockPersonality=yes
ReadWritePaths={writable}
UMask=0077

[Install]
WantedBy=multi-user.target
"""


def unit(settings: Settings, user: str = "") -> str:
    """The text of the unit. Paths are quoted as systemd.syntax(7) asks: a percent sign is doubled."""
    data = settings.data.resolve()
    command = Path(sys.argv[0]).resolve()
    if command.name != "flutebench":
        command = Path(sys.executable).with_name("flutebench")
    writable = dict.fromkeys([data, settings.backup_folder.resolve()])
    return UNIT.format(
        user=user or getpass.getuser(),
        folder=_plain(data),
        data=_plain(data),
        command=_quoted(command),
        writable=" ".join(_quoted(path) for path in writable),
    )


def _plain(path: Path) -> str:
    return str(path).replace("%", "%%")


def _quoted(path: Path) -> str:
    text = _plain(path)
    return f'"{text}"' if " " in text else text
