"""Endpoints: what is one, what is loopback, and what needs keys."""

from __future__ import annotations

import pytest

from console.core.errors import InputError
from console.link.endpoint import parse_endpoint, require_keys


@pytest.mark.parametrize(
    ("text", "is_loopback", "is_ipv6"),
    [
        ("tcp://127.0.0.1:5556", True, False),
        ("tcp://127.9.8.7:1", True, False),
        ("tcp://localhost:65535", True, False),
        ("tcp://LocalHost.:5556", True, False),
        ("tcp://[::1]:5556", True, True),
        ("tcp://[::ffff:127.0.0.1]:5556", True, True),
        ("ipc:///tmp/optical", True, False),
        (" tcp://127.0.0.1:5556\n", True, False),
        ("tcp://128.0.0.1:5556", False, False),
        ("tcp://10.0.0.5:5556", False, False),
        ("tcp://0.0.0.0:5556", False, False),
        ("tcp://[fe80::1]:5556", False, True),
        ("tcp://[::]:5556", False, True),
        ("tcp://nav-2.farrow.example:5556", False, False),
        ("tcp://localhost.example:5556", False, False),
        ("tcp://127.0.0.1.example:5556", False, False),
    ],
)
def test_endpoints(text, is_loopback, is_ipv6):
    """Only addresses of 127.0.0.0/8 and ::1, localhost and ipc are loopback."""
    endpoint = parse_endpoint(text)
    assert (endpoint.is_loopback, endpoint.is_ipv6) == (is_loopback, is_ipv6)
    assert endpoint.text == text.strip()


@pytest.mark.parametrize(
    "text",
    [
        "", "127.0.0.1:5556", "tcp:/127.0.0.1:5556", "http://127.0.0.1:5556", "tcp://127.0.0.1",
        "tcp://:5556", "tcp://127.0.0.1:", "tcp://127.0.0.1:0", "tcp://127.0.0.1:*",
        "tcp://127.0.0.1:65536", "tcp://127.0.0.1:-1", "tcp://*:5556", "tcp://999.1.1.1:5556",
        "tcp://127.1:5556", "tcp://[::1:5556", "tcp://[nothing]:5556", "tcp://a b:5556",
        "tcp://127.0.0.1:5556;127.0.0.1:5557", "tcp://127.0.0.1:5556/x", "inproc://a", "ipc://",
        "ipc://" + "x" * 101, "pgm://eth0;239.1.1.1:5555", "tcp://-a:5556", "tcp://ö:5556",
    ],
)  # fmt: skip
def test_no_endpoints(text):
    """Anything else is refused in one line that names the endpoint and the mend."""
    with pytest.raises(InputError) as caught:
        parse_endpoint(text)
    assert str(caught.value).startswith(f"{text}: endpoint: ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("text", ["tcp://*:5556", "tcp://127.0.0.1:*", "tcp://127.0.0.1:0"])
def test_endpoints_to_bind(text):
    """All interfaces and any free port can be bound but not connected to."""
    assert parse_endpoint(text, bind=True).text == text
    with pytest.raises(InputError):
        parse_endpoint(text)


def test_all_interfaces_are_not_loopback():
    """Binding every interface goes beyond this machine."""
    assert parse_endpoint("tcp://*:5556", bind=True).is_loopback is False


def test_going_outside_needs_keys_or_a_word():
    """Outside the loopback range keys are needed, or the word that none shall be."""
    inside, outside = parse_endpoint("tcp://127.0.0.1:1"), parse_endpoint("tcp://10.0.0.5:1")
    assert require_keys([inside], has_keys=False, insecure=False) is False
    assert require_keys([inside], has_keys=False, insecure=True) is False
    assert require_keys([inside, outside], has_keys=True, insecure=False) is False
    assert require_keys([inside, outside], has_keys=True, insecure=True) is False
    assert require_keys([inside, outside], has_keys=False, insecure=True) is True
    with pytest.raises(InputError, match=r"10\.0\.0\.5.*--keys DIR, or --insecure"):
        require_keys([inside, outside], has_keys=False, insecure=False)


def test_file_names():
    """An endpoint gives a name that a file can have."""
    assert parse_endpoint("tcp://10.0.0.5:5556").file_name == "10.0.0.5-5556"
    assert parse_endpoint("tcp://[::1]:5556").file_name == "--1-5556"
    assert parse_endpoint("ipc:///tmp/a b").file_name == "ipc--tmp-a-b"
