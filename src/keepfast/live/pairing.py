"""Who may come in: a short code on the laptop, few guesses, a token for each device, and a door that shuts again.

The tokens themselves stay on the devices; here only their hashes are kept, in a small file beside the book that no
other user can read, so that a device stays paired when the laptop starts again.
"""

from __future__ import annotations

import datetime
import hashlib
import hmac
import json
import os
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

CODE_DIGITS = 6
GUESSES_AN_ADDRESS = 5
GUESSES_IN_ALL = 20
ADDRESS_REST_S = 300.0


@dataclass(frozen=True)
class Device:
    """One phone, tablet or laptop that was let in. ``shut_out_at`` is empty while it may come in."""

    id: str
    name: str
    token_sha256: str
    paired_at: str
    shut_out_at: str = ""


@dataclass(frozen=True)
class Answer:
    """What came of a guess: the device and its token, or the reason why not."""

    device: Device | None = None
    token: str = ""
    refusal: str = ""  # "", wrong, rest or closed
    wait_s: float = 0.0


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _now() -> str:
    return datetime.datetime.now().astimezone().isoformat(timespec="seconds")


class Doors:
    """The paired devices and the code of the evening.

    Parameters
    ----------
    file
        Where paired devices are remembered; ``None`` keeps them in memory only.
    clock
        Seconds that only go forward.

    Notes
    -----
    Five wrong guesses from one address make it wait five minutes; twenty in all close the door until somebody at the
    laptop, or on a paired device, opens it with a new code. So one evening yields at most twenty guesses in a million.
    """

    def __init__(self, file: Path | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._file = file
        self._clock = clock
        self._lock = threading.Lock()
        self._devices: dict[str, Device] = {}
        self._wrong: dict[str, list[float]] = {}
        self._wrong_in_all = 0
        self._seen: dict[str, float] = {}
        self.code = ""
        self.open_again()
        if file is not None and file.is_file():
            try:
                for item in json.loads(file.read_text(encoding="utf-8"))["devices"]:
                    self._devices[item["id"]] = Device(**item)
            except (ValueError, KeyError, TypeError):
                # A torn file costs a pairing, never an entry: everyone pairs again.
                self._devices = {}

    def open_again(self) -> str:
        """A new code, with all its guesses."""
        with self._lock:
            self.code = "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))
            self._wrong.clear()
            self._wrong_in_all = 0
            return self.code

    @property
    def closed(self) -> bool:
        """Whether too many wrong codes were tried in all."""
        return self._wrong_in_all >= GUESSES_IN_ALL

    def guess(self, address: str, code: str, name: str) -> Answer:
        """Try a code from an address; a right one lets the device in under this name."""
        with self._lock:
            now = self._clock()
            if self.closed:
                return Answer(refusal="closed")
            recent = [t for t in self._wrong.get(address, []) if now - t < ADDRESS_REST_S]
            if len(recent) >= GUESSES_AN_ADDRESS:
                return Answer(refusal="rest", wait_s=ADDRESS_REST_S - (now - recent[0]))
            given = "".join(code.split()).encode("utf-8", "replace")
            if not hmac.compare_digest(given, self.code.encode()):
                self._wrong[address] = [*recent, now]
                self._wrong_in_all += 1
                return Answer(refusal="closed" if self.closed else "wrong")
            token = secrets.token_urlsafe(24)
            device = Device(secrets.token_hex(4), name, _hash(token), _now())
            self._devices[device.id] = device
            self._keep()
            return Answer(device=device, token=token)

    def device_of(self, token: str) -> Device | None:
        """The device that holds this token, unless it was shut out."""
        wanted = _hash(token)
        for device in list(self._devices.values()):
            if hmac.compare_digest(device.token_sha256, wanted):
                if device.shut_out_at:
                    return None
                self._seen[device.id] = self._clock()
                return device
        return None

    def let_in(self, device_id: str) -> bool:
        """Whether this device may still come in; asked again while a stream is open."""
        device = self._devices.get(device_id)
        return device is not None and not device.shut_out_at

    def shut_out(self, device_id: str) -> bool:
        """Close the door to one device; true if it was open."""
        with self._lock:
            device = self._devices.get(device_id)
            if device is None or device.shut_out_at:
                return False
            self._devices[device_id] = replace(device, shut_out_at=_now())
            self._keep()
            return True

    def devices(self) -> list[tuple[Device, float | None]]:
        """All devices with the seconds since each was last heard, the newest first."""
        now = self._clock()
        known = sorted(self._devices.values(), key=lambda d: d.paired_at, reverse=True)
        return [(d, now - self._seen[d.id] if d.id in self._seen else None) for d in known]

    def _keep(self) -> None:
        if self._file is None:
            return
        beside = self._file.with_name(f".{self._file.name}.new")
        text = json.dumps({"devices": [asdict(d) for d in self._devices.values()]}, indent=1)
        handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        os.replace(beside, self._file)
