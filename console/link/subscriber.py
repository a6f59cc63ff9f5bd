"""Receives what publishers send, stamps it, and never fails on account of the network."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from types import TracebackType
from typing import Self

import zmq

from console.core.errors import InputError
from console.core.records import Frame
from console.link.curve import Keys
from console.link.endpoint import Endpoint, parse_endpoint, require_keys
from console.link.health import LinkHealth
from console.link.receiver import Receiver

# Links are tended at least so often, however long the caller is ready to wait.
LONGEST_WAIT_S = 0.25


class Subscriber:
    """The receive-only end of the link.

    It connects by itself and again after every cut. Nothing the network does raises: a link that
    is down gives no messages and says so in :meth:`health`.

    Parameters
    ----------
    endpoints : sequence of str
        At least one, each once.
    keys : Keys, optional
        CURVE on every endpoint, loopback ones too.
    insecure : bool
        Whether endpoints outside the loopback range may go without keys.
    clock : callable
        UTC seconds now, for the receive time of each message.

    Raises
    ------
    InputError
        An endpoint is no endpoint, stands twice, or would need keys.

    Notes
    -----
    One thread calls :meth:`poll` and in the end :meth:`close`; :meth:`health` may be called from
    any thread.
    """

    def __init__(
        self,
        endpoints: Sequence[str],
        *,
        clock: Callable[[], float],
        keys: Keys | None = None,
        insecure: bool = False,
    ) -> None:
        checked = _checked(endpoints)
        self.is_insecure = require_keys(checked, has_keys=keys is not None, insecure=insecure)
        self._context: zmq.Context[zmq.Socket[bytes]] = zmq.Context()
        self._receivers: tuple[Receiver, ...] = ()
        try:
            for endpoint in checked:
                receiver = _connected(self._context, endpoint, keys, clock)
                self._receivers += (receiver,)
        except BaseException:
            self._context.destroy(linger=0)
            raise
        self._poller = self._new_poller()

    def _new_poller(self) -> zmq.Poller:
        poller = zmq.Poller()
        for receiver in self._receivers:
            poller.register(receiver.socket, zmq.POLLIN)
            poller.register(receiver.monitor.events, zmq.POLLIN)
        return poller

    def poll(self, timeout_s: float = 0.1, most: int = 10_000) -> list[Frame]:
        """Give the messages that wait, or those that come within a time.

        Parameters
        ----------
        timeout_s : float
            How long to wait where none waits; 0 does not wait.
        most : int
            At most so many messages, so that a flood cannot hold the caller.

        Returns
        -------
        list of Frame
            In the order received, per endpoint. A message of another number of frames than two
            stands under a topic that decodes to that reject; of one too large, the beginning.
            Empty when time ran out or the subscriber is closed.
        """
        frames: list[Frame] = []
        deadline_s = time.monotonic() + timeout_s
        share = max(1, most // len(self._receivers))
        try:
            while not self._context.closed:
                for receiver in self._receivers:
                    receiver.receive(frames, share)
                    if receiver.tend():
                        self._poller = self._new_poller()
                left_s = deadline_s - time.monotonic()
                if frames or left_s <= 0.0:
                    break
                self._poller.poll(max(1, round(min(left_s, LONGEST_WAIT_S) * 1000.0)))
        except zmq.ZMQError:
            # Closed by its owner while it waited: what was received still counts.
            pass
        return frames

    def health(self) -> tuple[LinkHealth, ...]:
        """Give the state of each endpoint's link, in the order given."""
        return tuple(receiver.health() for receiver in self._receivers)

    def close(self) -> None:
        """Close every socket; closing twice is once."""
        if self._context.closed:
            return
        for receiver in self._receivers:
            receiver.monitor.close()
        self._context.destroy(linger=0)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _checked(texts: Sequence[str]) -> tuple[Endpoint, ...]:
    if not texts:
        raise InputError.of("endpoint", "", "none given", "name at least one endpoint")
    endpoints = tuple(parse_endpoint(text) for text in texts)
    for index, endpoint in enumerate(endpoints):
        if endpoint in endpoints[:index]:
            # Twice the same publisher would only give every sample twice.
            raise InputError.of(endpoint.text, "endpoint", "stands twice", "name it once")
    return endpoints


def _connected(
    context: zmq.Context[zmq.Socket[bytes]],
    endpoint: Endpoint,
    keys: Keys | None,
    clock: Callable[[], float],
) -> Receiver:
    try:
        return Receiver(context, endpoint, keys, clock)
    except zmq.ZMQError as error:
        raise InputError.of(
            endpoint.text, "endpoint", f"cannot connect: {error.strerror}", "check the endpoint"
        ) from error
