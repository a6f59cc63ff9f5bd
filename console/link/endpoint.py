"""Where to connect or bind: the text of an endpoint, and whether it needs keys."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address

from console.core.errors import Fault, InputError

_TCP = re.compile(r"tcp://(?P<host>\[[^\[\]]+\]|[^\[\]:/;\s]+):(?P<port>\d{1,5}|\*)")
_NAME = re.compile(r"(?!-)[A-Za-z0-9_-]{1,63}(\.[A-Za-z0-9_-]{1,63})*\.?")
_IPC_PREFIX = "ipc://"
# A Unix socket's path is at most 107 bytes on Linux, 103 on macOS.
_IPC_PATH_LIMIT = 100
_MEND = "write tcp://HOST:PORT, such as tcp://127.0.0.1:5556 (or ipc://PATH on one machine)"


@dataclass(frozen=True, slots=True)
class Endpoint:
    """A checked endpoint.

    Attributes
    ----------
    text : str
        As ZeroMQ wants it.
    is_loopback : bool
        Whether bytes stay on this machine: 127.0.0.0/8, ::1, ``localhost``, or ipc.
    is_ipv6 : bool
        Whether the host is an IPv6 address.
    file_name : str
        A name for a file about this endpoint, such as ``10.0.0.5-5556``.
    """

    text: str
    is_loopback: bool
    is_ipv6: bool
    file_name: str


def parse_endpoint(text: str, *, bind: bool = False) -> Endpoint:
    """Check an endpoint a user gave.

    Parameters
    ----------
    text : str
        ``tcp://HOST:PORT`` or ``ipc://PATH``.
    bind : bool
        Whether it is to be bound: host ``*`` (all interfaces) and port ``*`` or 0 (any free
        one) are allowed then.

    Raises
    ------
    InputError
        Not such a text; names the mend.
    """
    stripped = text.strip()
    if stripped.startswith(_IPC_PREFIX):
        return _ipc(stripped)
    match = _TCP.fullmatch(stripped)
    if match is None:
        raise InputError.of(text, "endpoint", "not a ZeroMQ endpoint", _MEND)
    host, port = match["host"], match["port"]
    _check_port(text, port, bind)
    if host == "*":
        if not bind:
            raise InputError.of(
                text, "endpoint", "host * can be bound, not connected to", "name the host"
            )
        return Endpoint(stripped, False, False, f"any-{port}")
    is_loopback, is_ipv6 = _host(text, host)
    return Endpoint(stripped, is_loopback, is_ipv6, _file_name(f"{host.strip('[]')}-{port}"))


def require_keys(endpoints: Sequence[Endpoint], *, has_keys: bool, insecure: bool) -> bool:
    """Refuse to go beyond the loopback range in the clear, unless told to.

    Returns
    -------
    bool
        Whether any endpoint is in the clear outside the loopback range: to be said on the screen.

    Raises
    ------
    InputError
        One is, and ``insecure`` was not given.
    """
    if has_keys:
        return False
    outside = [endpoint for endpoint in endpoints if not endpoint.is_loopback]
    if outside and not insecure:
        raise InputError(
            outside[0].text,
            tuple(
                Fault(
                    "endpoint",
                    f"{endpoint.text} is outside the loopback range and no keys are given",
                    "give --keys DIR, or --insecure to go in the clear",
                )
                for endpoint in outside
            ),
        )
    return bool(outside)


def _ipc(text: str) -> Endpoint:
    path = text.removeprefix(_IPC_PREFIX)
    if not path or "\x00" in path or len(path.encode()) > _IPC_PATH_LIMIT:
        raise InputError.of(
            text, "endpoint", "no usable path", f"a path of 1 to {_IPC_PATH_LIMIT} bytes"
        )
    return Endpoint(text, True, False, _file_name(f"ipc-{path}"))


def _check_port(text: str, port: str, bind: bool) -> None:
    if port in {"*", "0"}:
        if bind:
            return
    elif port != "*" and 1 <= int(port) <= 65535:
        return
    raise InputError.of(text, "endpoint", f"port {port}", "a port is a number from 1 to 65535")


def _host(text: str, host: str) -> tuple[bool, bool]:
    """Tell whether a host is loopback, and whether it is an IPv6 address."""
    try:
        address = ip_address(host.strip("[]"))
    except ValueError:
        digits_alone = host.replace(".", "").isdigit()
        if digits_alone or host.startswith("[") or not _NAME.fullmatch(host):
            raise InputError.of(text, "endpoint", f"host {host!r}", _MEND) from None
        return host.rstrip(".").lower() == "localhost", False
    if isinstance(address, IPv6Address):
        inner = address.ipv4_mapped
        return (address if inner is None else inner).is_loopback, True
    return address.is_loopback, False


def _file_name(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9._-]", "-", text)
