"""The publishing end: binding, waiting, closing."""

from __future__ import annotations

import time

import pytest
from link_tools import ANY_PORT, LIMIT_S, SetClock, collect, sample

from console.core.errors import InputError, UsageError
from console.link.publisher import Publisher
from console.link.subscriber import Subscriber


def test_it_names_the_port_it_took():
    """Port 0 takes a free one, and the endpoint says which."""
    with Publisher(ANY_PORT, clock=SetClock()) as publisher:
        assert publisher.endpoint.startswith("tcp://127.0.0.1:")
        assert int(publisher.endpoint.rpartition(":")[2]) > 0


def test_a_port_in_use_is_an_input_error():
    """Binding twice is refused in words, not by a traceback."""
    with (
        Publisher(ANY_PORT, clock=SetClock()) as first,
        pytest.raises(InputError, match="cannot bind: Address already in use"),
    ):
        Publisher(first.endpoint, clock=SetClock())


def test_all_interfaces_need_keys_or_a_word():
    """Publishing beyond this machine in the clear must be asked for."""
    with pytest.raises(InputError, match="--insecure"):
        Publisher("tcp://*:0", clock=SetClock())
    with Publisher("tcp://*:0", clock=SetClock(), insecure=True) as publisher:
        assert publisher.is_insecure


def test_waiting_for_nobody_ends():
    """Waiting ends with the time given."""
    with Publisher(ANY_PORT, clock=SetClock()) as publisher:
        assert publisher.wait_for_subscriber(0.05) is False


def test_a_subscriber_that_left_is_known():
    """When the only subscriber has gone there is none to publish to."""
    with Publisher(ANY_PORT, clock=SetClock()) as publisher:
        with Subscriber([publisher.endpoint], clock=SetClock()):
            assert publisher.wait_for_subscriber(10.0)
        deadline_s = time.monotonic() + LIMIT_S
        while publisher.wait_for_subscriber(0.0):
            assert time.monotonic() < deadline_s


def test_the_last_messages_leave_before_it_closes():
    """What was sent just before closing still arrives."""
    with Publisher(ANY_PORT, clock=SetClock()) as publisher:
        subscriber = Subscriber([publisher.endpoint], clock=SetClock())
        assert publisher.wait_for_subscriber(10.0)
        for seq in range(5000):
            publisher.send(sample(seq))
    with subscriber:
        assert len(collect(subscriber, 5000)) == 5000


def test_nobody_there_is_no_obstacle():
    """Sending to nobody neither waits nor fails, and closing is at once."""
    publisher = Publisher(ANY_PORT, clock=SetClock())
    for seq in range(1000):
        publisher.send(sample(seq))
    publisher.heartbeat()
    publisher.close()
    publisher.close()
    with pytest.raises(UsageError):
        publisher.send(sample(1))
    with pytest.raises(UsageError):
        publisher.wait_for_subscriber(0.0)
