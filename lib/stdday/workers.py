"""Processes that work for this one: started where it pays, ended with it, whatever happens."""

from __future__ import annotations

import contextlib
import itertools
import multiprocessing
import os
import signal
import sys
import threading
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from types import TracebackType
from typing import Generic, TypeVar

from stdday.errors import InputError, StddayError

if sys.platform == "linux":
    from multiprocessing import forkserver

__all__ = ["Workers"]

#: Tasks handed out before a result is awaited, for each process [-]: one in work, one in store.
_AHEAD = 2
#: How processes are started.
_METHOD = "forkserver" if sys.platform == "linux" else "spawn"
#: What the libraries of linear algebra go by for their number of threads.
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")

_Task = TypeVar("_Task")
_Result = TypeVar("_Result")


@dataclass(frozen=True)
class _Told(Generic[_Result]):
    """What comes back from a process: a result, and the warnings met on the way to it."""

    result: _Result
    warned: tuple[tuple[type[Warning], str, str, int], ...]


class Workers:
    """Processes that work for this one, started at the first work that pays.

    Used in a ``with`` statement, which ends them. None is a copy (a fork) of this process, which
    could hold locks of threads that the copy does not have: on Linux they are copies of a fresh
    process that has only imported what they need, elsewhere each is started afresh.

    Parameters
    ----------
    jobs : int
        Processes at most [-]; with 1 all is done in this one.
    modules : sequence of str
        Modules that they will need.

    Raises
    ------
    InputError
        `jobs` is below 1.

    Examples
    --------
    >>> with Workers(1) as workers:
    ...     list(workers.each(abs, [-1, 2]))
    [(0, 1), (1, 2)]
    """

    def __init__(self, jobs: int = 1, modules: Sequence[str] = ()) -> None:
        if jobs < 1:
            raise InputError(f"jobs must be at least 1; got {jobs}")
        self._jobs = jobs
        self._modules = modules
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Workers:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None

    def prepare(self) -> None:
        """Begin to start the processes, without waiting for them; nothing with 1."""
        if self._jobs > 1 and sys.platform == "linux":
            with _quiet_start():
                multiprocessing.set_forkserver_preload([*self._modules])
                forkserver.ensure_running()
        else:
            self._start()

    def _start(self) -> None:
        """Start the processes, where none run yet."""
        if self._jobs == 1 or self._pool is not None:
            return
        if sys.platform == "linux":
            self.prepare()
        context = multiprocessing.get_context(_METHOD)
        self._pool = ProcessPoolExecutor(self._jobs, mp_context=context, initializer=_begin)
        with _quiet_start():
            for _ in range(self._jobs):    # each starts one, as none is idle yet
                self._pool.submit(_ready)

    def each(
        self,
        function: Callable[[_Task], _Result],
        tasks: Iterable[_Task],
        pays: bool = False,
    ) -> Iterator[tuple[int, _Result]]:
        """Do every task, and tell of each as soon as it is done.

        The first are handed out before this returns, and only as many at a time as keep the
        processes busy, so that an interruption waits for little. Warnings are given here as they
        were met there.

        Parameters
        ----------
        function : callable
            What to do; found by its name in another process.
        tasks : iterable
            What to do it with; each is asked for when it is handed out.
        pays : bool
            Whether the work is worth starting processes for, where none run yet.

        Returns
        -------
        iterator of (int, result)
            Place of each task, and what came of it.

        Raises
        ------
        StddayError
            A process was ended from outside; also whatever `function` raises.
        """
        rest = iter(tasks)
        first = list(itertools.islice(rest, 2))
        left = enumerate(itertools.chain(first, rest))
        if pays and len(first) > 1:
            self._start()
        if self._pool is None or len(first) < 2:
            return ((place, function(task)) for place, task in left)
        return self._told(function, left, self._hand_out(function, left, self._jobs * _AHEAD))

    def _told(
        self,
        function: Callable[[_Task], _Result],
        left: Iterator[tuple[int, _Task]],
        running: dict[Future[_Told[_Result]], int],
    ) -> Iterator[tuple[int, _Result]]:
        """Tell of each task that is done, and hand out another one."""
        try:
            while running:
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    told, place = future.result(), running.pop(future)
                    running |= self._hand_out(function, left, 1)
                    for category, text, file, line in told.warned:
                        warnings.warn_explicit(text, category, file, line)
                    yield place, told.result
        except BrokenProcessPool:
            raise _ended() from None

    def _hand_out(
        self,
        function: Callable[[_Task], _Result],
        left: Iterator[tuple[int, _Task]],
        count: int,
    ) -> dict[Future[_Told[_Result]], int]:
        """Hand out so many tasks of those that are left; their places."""
        if self._pool is None:
            raise StddayError("work was asked of processes that were ended")
        try:
            return {self._pool.submit(_observed, function, task): place
                    for place, task in itertools.islice(left, count)}
        except BrokenProcessPool:
            raise _ended() from None


def _ended() -> StddayError:
    return StddayError("A process of this run was ended from outside, perhaps for want of memory. "
                       "Run again with --jobs 1.")


@contextlib.contextmanager
def _quiet_start() -> Iterator[None]:
    """Start processes that compute with one thread each, and that an interruption does not reach.

    Several processes with as many threads each as there are cores get in each other's way: on two
    busy cores a flight took twice as long.
    """
    before = {name: os.environ.get(name) for name in _THREADS}
    os.environ.update({name: "1" for name, value in before.items() if value is None})
    here = threading.current_thread() is threading.main_thread()
    handler = signal.signal(signal.SIGINT, signal.SIG_IGN) if here else None
    try:
        yield
    finally:
        if here:
            signal.signal(signal.SIGINT, handler)
        for name in [name for name, value in before.items() if value is None]:
            del os.environ[name]


# ---- in the other process ------------------------------------------------------------------------


def _begin() -> None:
    """Make a process leave interruptions to the one that started it, and end when that one ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _ready() -> None:
    """Nothing to do yet."""


def _end_with_parent() -> None:
    """End this process when the one that started it is gone, however that ended."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _observed(function: Callable[[_Task], _Result], task: _Task) -> _Told[_Result]:
    """Do a task and bring its warnings along."""
    with warnings.catch_warnings(record=True) as caught:
        result = function(task)
    return _Told(result, tuple(
        (one.category, str(one.message), one.filename, one.lineno) for one in caught))
