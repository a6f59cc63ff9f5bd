"""CURVE over real sockets: who is let in, and what the refused see."""

from __future__ import annotations

import shutil
import threading

import pytest
from link_tools import ANY_PORT, SetClock, collect, poll_until, sample

from console.core.errors import InputError
from console.link.curve import Keys, load_keys, make_keys
from console.link.health import KEY_REFUSED, LinkHealth
from console.link.publisher import Publisher
from console.link.subscriber import Subscriber


@pytest.fixture
def folders(tmp_path):
    """Give two folders of keys that know each other: the publisher's and a console's."""
    ours, theirs = tmp_path / "publisher", tmp_path / "console"
    make_keys(ours)
    make_keys(theirs)
    shutil.copy(theirs / "leadmark.key", ours / "authorised" / "console.key")
    shutil.copy(ours / "leadmark.key", theirs / "publisher.key")
    return ours, theirs


@pytest.fixture
def stranger(tmp_path, folders):
    """Give the keys of somebody who knows the publisher's key but is not authorised."""
    make_keys(tmp_path / "stranger")
    shutil.copy(folders[0] / "leadmark.key", tmp_path / "stranger" / "publisher.key")
    return load_keys(tmp_path / "stranger")


@pytest.fixture
def publisher(folders):
    """Give a publisher with keys."""
    with Publisher(ANY_PORT, clock=SetClock(), keys=load_keys(folders[0])) as bound:
        yield bound


def refused(publisher: Publisher, keys: Keys | None, words: str) -> LinkHealth:
    """Hold that a console gets nothing though the publisher sends, and is told why."""
    with Subscriber([publisher.endpoint], clock=SetClock(), keys=keys) as subscriber:

        def tried_twice() -> bool:
            publisher.send(sample(1))
            link = subscriber.health()[0]
            # one obstacle shows in several ways, try by try; the most telling stays
            return link.handshake_failures >= 2 and words in link.why_down

        assert poll_until(subscriber, tried_twice) == []
        (link,) = subscriber.health()
        assert (link.is_up, link.frames, link.handshakes) == (False, 0, 0)
        return link


def test_authorised_keys_are_let_in(folders, publisher):
    """A console whose key the publisher holds receives what is sent."""
    with Subscriber(
        [publisher.endpoint], clock=SetClock(), keys=load_keys(folders[1])
    ) as subscriber:
        assert publisher.wait_for_subscriber(10.0)
        publisher.send(sample(1))
        assert len(collect(subscriber, 1)) == 1
        assert subscriber.health()[0].is_up
        assert not subscriber.is_insecure


def test_one_folder_shared_by_both_ends(tmp_path):
    """The same folder on both ends is enough."""
    make_keys(tmp_path)
    keys = load_keys(tmp_path)
    with (
        Publisher(ANY_PORT, clock=SetClock(), keys=keys) as publisher,
        Subscriber([publisher.endpoint], clock=SetClock(), keys=keys) as subscriber,
    ):
        assert publisher.wait_for_subscriber(10.0)
        publisher.send(sample(1))
        assert len(collect(subscriber, 1)) == 1


def test_a_stranger_is_refused(publisher, stranger):
    """A key that is not authorised is refused and told so."""
    link = refused(publisher, stranger, "key refused: the publisher must have this console's")
    assert link.failure == KEY_REFUSED
    assert publisher.refused >= 2


def test_a_peer_without_keys_is_refused(publisher):
    """A console in the clear gets nothing from a publisher with keys."""
    refused(publisher, None, "want")


def test_a_wrong_publisher_key_is_refused(tmp_path, publisher):
    """A console that expects another publisher does not take this one's data."""
    make_keys(tmp_path / "alone")
    alone = load_keys(tmp_path / "alone")
    refused(publisher, alone, "it has another key than expected")


def test_a_publisher_without_keys_is_refused(folders):
    """A console with keys takes nothing sent in the clear."""
    with Publisher(ANY_PORT, clock=SetClock()) as publisher:
        keys = load_keys(folders[1])
        refused(publisher, keys, "goes without keys")
        assert publisher.wait_for_subscriber(0.0) is False


def test_a_refusal_is_not_for_ever(tmp_path, folders, stranger):
    """A console that was refused is let in by itself once the publisher knows its key."""
    first = Publisher(ANY_PORT, clock=SetClock(), keys=load_keys(folders[0]))
    with Subscriber([first.endpoint], clock=SetClock(), keys=stranger) as subscriber:
        poll_until(subscriber, lambda: subscriber.health()[0].failure == "key refused")
        first.close()
        shutil.copy(tmp_path / "stranger" / "leadmark.key", folders[0] / "authorised" / "new.key")
        with Publisher(first.endpoint, clock=SetClock(), keys=load_keys(folders[0])) as second:
            poll_until(subscriber, lambda: second.wait_for_subscriber(0.01))
            second.send(sample(1))
            assert len(collect(subscriber, 1)) == 1
            poll_until(subscriber, lambda: subscriber.health()[0].failure == "")


def test_a_stranger_harms_nobody(folders, publisher, stranger):
    """While a stranger knocks, an authorised console goes on receiving."""
    with Subscriber(
        [publisher.endpoint], clock=SetClock(), keys=load_keys(folders[1])
    ) as subscriber:
        assert publisher.wait_for_subscriber(10.0)
        refused(publisher, stranger, "key refused")
        publisher.send(sample(77))
        frames = poll_until(subscriber, lambda: subscriber.health()[0].frames >= 3)
        assert len(frames) >= 3


def test_the_authenticator_ends_with_the_publisher(folders):
    """No thread is left when a publisher with keys closes, also when it could not bind."""
    before = threading.active_count()
    keys = load_keys(folders[0])
    with Publisher(ANY_PORT, clock=SetClock(), keys=keys) as publisher:
        assert threading.active_count() == before + 1
        with pytest.raises(InputError, match="cannot bind"):
            Publisher(publisher.endpoint, clock=SetClock(), keys=keys)
        assert threading.active_count() == before + 1
    assert threading.active_count() == before


def test_keys_make_the_outside_safe(folders):
    """With keys no word is needed to publish beyond this machine."""
    with Publisher("tcp://*:0", clock=SetClock(), keys=load_keys(folders[0])) as publisher:
        assert not publisher.is_insecure
