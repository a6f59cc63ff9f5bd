"""CURVE key pairs: making them, reading them, and who may connect.

A folder of keys holds

* ``leadmark.key`` and ``leadmark.key_secret``: the own pair; the second never leaves the machine;
* ``publisher.key``: the public key of the publisher to watch; one of several publishers may have
  its own in ``publishers/HOST-PORT.key``;
* ``authorised/*.key``: the public keys of consoles that may watch what is published from here.

Where no other key is there, both ends are taken to share the own pair, so that one folder copied
to two machines is enough. The files are of the form that ZeroMQ's tools write and read (ZPL).
"""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass, field
from pathlib import Path

import zmq

from console.core.errors import InputError
from console.link.endpoint import Endpoint

PUBLIC_NAME = "leadmark.key"
SECRET_NAME = "leadmark.key_secret"
PUBLISHER_NAME = "publisher.key"
PUBLISHERS_FOLDER = "publishers"
AUTHORISED_FOLDER = "authorised"
_KEY_LENGTH = 40
_FILE_LIMIT_BYTES = 65536

_PUBLIC_TEXT = """\
#   ZeroMQ CURVE public certificate
#   Give this file to the other end: it goes into authorised/ of a publisher,
#   or becomes publisher.key of a console.

curve
    public-key = "{public}"
"""
_SECRET_TEXT = """\
#   ZeroMQ CURVE **secret** certificate
#   Keep this file on this machine, readable by its owner alone.

curve
    public-key = "{public}"
    secret-key = "{secret}"
"""


@dataclass(frozen=True, slots=True)
class Keys:
    """The keys of one end, each 40 bytes of Z85 text.

    Attributes
    ----------
    public, secret : bytes
        The own pair.
    publisher : bytes
        The publisher's public key.
    publishers : dict of str to bytes
        Public keys of publishers by :attr:`Endpoint.file_name`, where they have their own.
    authorised : frozenset of bytes
        The public keys that may connect to what is bound here.
    """

    public: bytes
    secret: bytes = field(repr=False)
    publisher: bytes
    publishers: dict[str, bytes]
    authorised: frozenset[bytes]

    def publisher_of(self, endpoint: Endpoint) -> bytes:
        """Give the public key to expect at an endpoint."""
        return self.publishers.get(endpoint.file_name, self.publisher)


def make_keys(folder: Path) -> tuple[Path, Path]:
    """Make a key pair in a folder; give the paths of its public and secret file.

    The secret file can be read by its owner alone from the moment it exists.

    Raises
    ------
    InputError
        The folder holds a pair already (it is never overwritten) or cannot be written.
    """
    _require_curve(folder)
    public_path, secret_path = folder / PUBLIC_NAME, folder / SECRET_NAME
    for path in (public_path, secret_path):
        if path.exists():
            raise InputError.of(
                str(path), "", "there is a key already", "choose another folder, or remove it"
            )
    public, secret = (key.decode("ascii") for key in zmq.curve_keypair())
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / AUTHORISED_FOLDER).mkdir(exist_ok=True)
        _write(secret_path, _SECRET_TEXT.format(public=public, secret=secret), 0o600)
        _write(public_path, _PUBLIC_TEXT.format(public=public), 0o644)
    except OSError as error:
        raise _unusable(folder, error) from error
    return public_path, secret_path


def load_keys(folder: Path) -> Keys:
    """Read a folder of keys.

    Raises
    ------
    InputError
        There is no pair, a file is no certificate, the secret file can be read by others, or
        the secret does not belong to the public key.
    """
    _require_curve(folder)
    secret_path = folder / SECRET_NAME
    _check_private(secret_path)
    public, secret = _read_pair(secret_path)
    own = _read_public(folder / PUBLIC_NAME) if (folder / PUBLIC_NAME).exists() else public
    if own != public or zmq.curve_public(secret) != public:
        raise InputError.of(
            str(secret_path), "secret-key", "does not belong to the public key",
            "copy both files of the pair together",
        )  # fmt: skip
    shared = folder / PUBLISHER_NAME
    authorised = _read_folder(folder / AUTHORISED_FOLDER)
    return Keys(
        public=public,
        secret=secret,
        publisher=_read_public(shared) if shared.exists() else public,
        publishers=_read_folder(folder / PUBLISHERS_FOLDER),
        authorised=frozenset(authorised.values()) or frozenset({public}),
    )


def _require_curve(folder: Path) -> None:
    if not zmq.has("curve"):
        raise InputError.of(
            str(folder), "", "this build of ZeroMQ has no CURVE", "install pyzmq from a wheel"
        )


def _write(path: Path, text: str, mode: int) -> None:
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        file.write(text)


def _check_private(path: Path) -> None:
    try:
        mode = stat.S_IMODE(path.stat().st_mode)
    except OSError as error:
        raise InputError.of(
            str(path), "", f"no secret key: {error.strerror}", "make a pair: leadmark keys DIR"
        ) from error
    # Windows has no such bits: there the folder's own rights count.
    if os.name == "posix" and mode & 0o077:
        raise InputError.of(
            str(path), "", f"others may use this secret key (mode {mode:04o})", f"chmod 600 {path}"
        )


def _read_folder(folder: Path) -> dict[str, bytes]:
    if not folder.is_dir():
        return {}
    return {path.stem: _read_public(path) for path in sorted(folder.glob("*.key"))}


def _read_public(path: Path) -> bytes:
    return _key(path, _entries(path), "public-key")


def _read_pair(path: Path) -> tuple[bytes, bytes]:
    entries = _entries(path)
    return _key(path, entries, "public-key"), _key(path, entries, "secret-key")


def _entries(path: Path) -> dict[str, str]:
    """Read the ``name = "value"`` lines of a certificate."""
    try:
        with path.open("rb") as file:
            text = file.read(_FILE_LIMIT_BYTES).decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise _unusable(path, error) from error
    entries: dict[str, str] = {}
    for line in text.splitlines():
        name, sign, value = line.strip().partition("=")
        if sign and not name.startswith("#"):
            entries[name.strip()] = value.strip().strip("\"'")
    return entries


def _key(path: Path, entries: dict[str, str], name: str) -> bytes:
    value = entries.get(name)
    if value is None:
        raise InputError.of(str(path), name, "missing", "a CURVE certificate holds it")
    try:
        key = value.encode("ascii")
        # ZeroMQ itself decides what a key is; the result is of no use here.
        zmq.curve_public(key)
    except (UnicodeEncodeError, ValueError, zmq.ZMQError):
        key = b""
    if len(key) != _KEY_LENGTH:
        raise InputError.of(str(path), name, "no CURVE key", "40 characters of Z85 text")
    return key


def _unusable(path: Path, error: Exception) -> InputError:
    what = error.strerror if isinstance(error, OSError) else None
    return InputError.of(str(path), "", str(what or error), "a readable, writable path is needed")
