"""Where a book may lie: on a drive of this machine, private to its user."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import uuid
from pathlib import Path

from keepfast.findings import Finding
from keepfast.words import _

# Stands in the head of a book's file and tells it from any other SQLite file ("Kfst").
APPLICATION_ID = 0x4B66_7374

# File systems that are reached over a network, by the names the kernel gives them. SQLite's documentation ("How To
# Corrupt An SQLite Database File", section 2.1; "Write-Ahead Logging", "all processes must be on the same host
# computer") is the reason: their locks often do not hold, and a WAL needs shared memory.
NETWORK = frozenset(
    (
        *("nfs", "nfs3", "nfs4", "cifs", "smb", "smb2", "smb3", "smbfs", "ncpfs", "afs", "afpfs", "coda", "webdav"),
        *("davfs", "davfs2", "ceph", "lustre", "gpfs", "glusterfs", "beegfs", "fuse.sshfs", "fuse.davfs"),
        *("fuse.davfs2", "fuse.glusterfs", "fuse.rclone", "fuse.s3fs", "fuse.goofys", "fuse.ceph", "fuse.smbnetfs"),
        *("fuse.gvfsd-fuse", "fuse.onedriver", "fuse.google-drive-ocamlfuse", "fuse.curlftpfs"),
    )
)


def _mounts_of_linux(table: str) -> list[tuple[str, str]]:
    rows = []
    for line in table.splitlines():
        parts = line.split()
        if len(parts) >= 3:
            rows.append((parts[1].encode().decode("unicode_escape"), parts[2]))
    return rows


def _mounts_of_mac(table: str) -> list[tuple[str, str]]:
    rows = []
    for line in table.splitlines():
        _device, on, rest = line.partition(" on ")
        place, bracket, kind = rest.rpartition(" (")
        if on and bracket:
            rows.append((place, kind.split(",")[0].rstrip(")").strip()))
    return rows


def file_system(path: Path, mounts: list[tuple[str, str]] | None = None) -> str:
    """The kind of file system a path lies on, by the kernel's name for it; empty where it cannot be told."""
    if mounts is None:
        mounts = _mounts()
    real = os.path.realpath(path)
    best = max(
        (
            (place, kind)
            for place, kind in mounts
            if real == place or real.startswith(place.rstrip("/") + "/") or place == "/"
        ),
        # Of two mounted on one place the later covers the earlier.
        key=lambda mount: (len(mount[0]), mounts.index(mount)),
        default=("", ""),
    )
    return best[1]


def _mounts() -> list[tuple[str, str]]:
    try:
        if sys.platform.startswith("linux"):
            return _mounts_of_linux(Path("/proc/self/mounts").read_text(errors="replace"))
        if sys.platform == "darwin":
            return _mounts_of_mac(subprocess.run(["/sbin/mount"], capture_output=True, text=True, check=False).stdout)
    except OSError:
        pass
    return []


def _windows_network(path: Path) -> bool:
    if sys.platform != "win32":
        return False
    import ctypes

    drive = os.path.splitdrive(os.path.realpath(path))[0]
    remote = 4  # DRIVE_REMOTE of GetDriveTypeW
    return drive.startswith("\\\\") or ctypes.windll.kernel32.GetDriveTypeW(drive + "\\") == remote


def network_trouble(path: Path, mounts: list[tuple[str, str]] | None = None) -> Finding | None:
    """Why a book may not lie here, where this is a drive reached over a network."""
    kind = file_system(path, mounts).lower()
    if kind in NETWORK or _windows_network(path):
        return Finding(
            _("this is a network drive ({kind}), and a book is not safe on one").format(kind=kind or "remote"),
            _(
                "Two machines cannot keep out of each other's way there, and entries could be lost. Keep the book on"
                " this machine's own drive and put backups on the network drive."
            ),
            file=str(path),
        )
    return None


def place_of(path: Path) -> str:
    """A mark for this file on this machine, that tells nobody where it is."""
    machine = ""
    for name in ("/etc/machine-id", "/var/lib/dbus/machine-id"):
        try:
            machine = Path(name).read_text(encoding="ascii").strip()
            break
        except (OSError, UnicodeDecodeError):
            continue
    machine = machine or f"{uuid.getnode():012x}"
    return hashlib.sha256(f"{machine}\n{os.path.realpath(path)}".encode(errors="surrogateescape")).hexdigest()[:32]


def is_book(path: Path) -> bool:
    """Whether a file says of itself that it is a book; False for what cannot be read."""
    try:
        with path.open("rb") as file:
            head = file.read(100)
    except OSError:
        return False
    return head[:16] == b"SQLite format 3\0" and int.from_bytes(head[68:72], "big") == APPLICATION_ID
