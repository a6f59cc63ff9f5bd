"""Worker processes: they end with the program that started them, and are as quiet as it is."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context, parent_process, resource_tracker
from multiprocessing.process import BaseProcess
from types import TracebackType
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


class WorkerPool(ProcessPoolExecutor):
    """A pool whose workers an interrupt of the program does not reach.

    As a context it waits for what was handed in, but where an error is on its way, an interrupt
    among them: then the workers are ended at once.

    Parameters
    ----------
    jobs : int
        Workers at most.
    """

    def __init__(self, jobs: int) -> None:
        # spawned, not forked: a forked child would share the parent's threads' locks
        super().__init__(jobs, mp_context=get_context("spawn"), initializer=_begin_work)

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Hand in work; a worker is started where none is idle."""
        with _interrupts_kept_back():
            return super().submit(fn, *args, **kwargs)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> bool | None:
        if kind is not None:
            for process in list((self._processes or {}).values()):
                process.terminate()
        return super().__exit__(kind, error, trace)


@contextmanager
def _interrupts_kept_back() -> Iterator[None]:
    """Keep Ctrl+C from processes started meanwhile; it reaches this one afterwards.

    A worker cannot do that for itself: it takes a second to load before it is asked anything, and
    an interrupt then would print where it was.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # or it is started with the first worker, and lets them in
    before = signal.pthread_sigmask(signal.SIG_BLOCK, (signal.SIGINT,))
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin_work() -> None:
    """Make a worker end with the program that started it, and only with it.

    Ctrl+C reaches workers too, where it could not be kept back: the program decides what it
    means. A program that is killed cannot tell its workers; they notice that it is gone.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    starter = parent_process()
    if starter is not None:
        threading.Thread(target=_end_with, args=(starter,), daemon=True).start()


def _end_with(starter: BaseProcess) -> None:
    starter.join()
    os._exit(1)
