"""A second process beside this one, for work that can be done apart.

It is an interpreter of its own that runs no script of the caller's, takes one job
after another from a pipe, and ends when that pipe does: with the work, with the
process that started it, or when that one is killed.
"""

from __future__ import annotations

import os
import pickle
import queue
import signal
import struct
import subprocess
import sys
import threading
import traceback
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import IO, TypeVar

__all__ = [
    "Job",
    "ProcessLostError",
    "Second",
    "done_alone",
    "second_process",
    "serve",
    "usable_cores",
]

Result = TypeVar("Result")

# what the other process runs: it looks for modules where this one does
_BEGIN = (
    "import pickle, sys; sys.path[:] = pickle.load(sys.stdin.buffer); "
    "from claimlens.second import serve; serve()"
)
_LENGTH = struct.Struct(">Q")


class ProcessLostError(Exception):
    """The second process could not be started, or ended before its work was done."""


@dataclass(frozen=True, slots=True)
class Job:
    """A call that either process can make.

    Parameters
    ----------
    function : callable
        Of a module, so that it can be found by its name.
    arguments : tuple
        What it is called with; all of it can be pickled.
    """

    function: Callable[..., object]
    arguments: tuple[object, ...] = ()

    def do(self) -> object:
        """Make the call here."""
        return self.function(*self.arguments)


@dataclass(frozen=True, slots=True)
class _Warned:
    """A warning that was given in the second process."""

    message: str
    category: type[Warning]
    filename: str
    lineno: int


@dataclass(frozen=True, slots=True)
class _Answer:
    """What came of a job."""

    value: object = None
    error: BaseException | None = None
    warned: tuple[_Warned, ...] = ()


# whether this process is itself the second of another one
_IS_SECOND = threading.Event()


def usable_cores() -> int:
    """Return how many cores this process may use; a second process has one."""
    if _IS_SECOND.is_set():
        return 1
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Second:
    """The second process, as the first one sees it.

    Parameters
    ----------
    process : subprocess.Popen
        Waits for its first job.
    """

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        if process.stdin is None or process.stdout is None:
            raise ProcessLostError("The second process has no pipes.")
        self._to: IO[bytes] = process.stdin
        self._from: IO[bytes] = process.stdout
        self._process = process
        # one thread waits for the answers, so that jobs are done in their order
        self._thread = ThreadPoolExecutor(1, "second")

    def submit(
        self, function: Callable[..., Result], *arguments: object
    ) -> Future[Result]:
        """Have a call made there, after those that were submitted before.

        Parameters
        ----------
        function : callable
            Of a module, so that it can be found by its name.
        *arguments
            All of it can be pickled.

        Returns
        -------
        Future
            Raises what the call raises there, or `ProcessLostError`.
        """
        return self._thread.submit(self._call, function, *arguments)

    def share(self, jobs: Sequence[Job]) -> list[object]:
        """Do jobs in both processes at once, each in the one that is free first.

        Parameters
        ----------
        jobs : sequence of Job
            The second process begins with the first of them, this one with the last.

        Returns
        -------
        list
            What came of them, in their order.
        """
        done: dict[int, object] = {}
        waiting = deque(range(len(jobs)))

        def feed() -> None:
            with suppress(IndexError):
                while True:
                    place = waiting.popleft()
                    one = jobs[place]
                    done[place] = self._call(one.function, *one.arguments)

        feeding = self._thread.submit(feed)
        with suppress(IndexError):
            while True:
                place = waiting.pop()
                done[place] = jobs[place].do()
        feeding.result()
        return [done[place] for place in range(len(jobs))]

    def _call(self, function: Callable[..., Result], *arguments: object) -> Result:
        """Have one call made there and wait for what comes of it."""
        try:
            _send(self._to, Job(function, arguments))
            answer = _receive(self._from)
        # a pipe that has ended, or what cannot be pickled: many kinds of error
        except Exception as error:
            raise ProcessLostError("The second process gave no answer.") from error
        if not isinstance(answer, _Answer):
            raise ProcessLostError("The second process gave no answer.")
        for one in answer.warned:
            warnings.warn_explicit(
                one.message, one.category, one.filename, one.lineno, registry=_SEEN
            )
        if answer.error is not None:
            raise answer.error
        return answer.value  # type: ignore[return-value]

    def end(self) -> None:
        """End the process, whatever it does, and wait until it is gone."""
        self._process.kill()
        self._process.wait()
        self._thread.shutdown(wait=True, cancel_futures=True)
        for pipe in (self._to, self._from):
            with suppress(OSError):
                pipe.close()


# warnings already given, as a module's own registry holds them
_SEEN: dict[str | tuple[str, type[Warning], int], int] = {}


def done_alone(jobs: Sequence[Job]) -> list[object]:
    """Do in this process what `Second.share` does in two."""
    return [job.do() for job in jobs]


@contextmanager
def second_process() -> Iterator[Second]:
    """Start a second process, and end it at the end of the block.

    Raises
    ------
    ProcessLostError
        If none can be started.
    """
    try:
        process = subprocess.Popen(
            # -P: what lies in the current folder is not taken for a module
            [sys.executable, "-P", "-c", _BEGIN],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
    except (OSError, ValueError) as error:
        raise ProcessLostError("No second process can be started.") from error
    second = Second(process)
    try:
        with suppress(OSError):  # told by the first call
            pickle.dump(sys.path, second._to)
            second._to.flush()
        yield second
    finally:
        second.end()


def _send(pipe: IO[bytes], thing: object) -> None:
    written = pickle.dumps(thing, protocol=pickle.HIGHEST_PROTOCOL)
    pipe.write(_LENGTH.pack(len(written)))
    pipe.write(written)
    pipe.flush()


def _receive(pipe: IO[bytes]) -> object:
    return pickle.loads(_read(pipe, _LENGTH.unpack(_read(pipe, _LENGTH.size))[0]))


def _read(pipe: IO[bytes], length: int) -> bytes:
    read = pipe.read(length)
    if len(read) < length:
        raise EOFError("The pipe has ended.")
    return read


def serve() -> None:
    """Do the jobs of the process that started this one, until it goes."""
    _IS_SECOND.set()
    # a key that stops both is for the other one to tell of
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.fdopen(os.dup(1), "wb")
    # whatever is printed would stand between the answers
    os.dup2(2, 1)
    jobs: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    threading.Thread(target=_take_jobs, args=(jobs,), daemon=True).start()
    while True:
        answer = _answer(jobs.get())
        try:
            _send(answers, answer)
        except OSError:
            return
        except Exception as error:  # noqa: BLE001 - what cannot be pickled
            _send(answers, _Answer(error=ProcessLostError(str(error))))


def _take_jobs(jobs: queue.SimpleQueue[bytes]) -> None:
    """Take jobs in, and end this process at once when the pipe ends."""
    pipe = sys.stdin.buffer
    try:
        while True:
            length = _LENGTH.unpack(_read(pipe, _LENGTH.size))[0]
            jobs.put(_read(pipe, length))
    finally:
        os._exit(0)


def _answer(written: bytes) -> _Answer:
    """Do one job."""
    with warnings.catch_warnings(record=True) as given:
        warnings.simplefilter("always")
        try:
            job = pickle.loads(written)
            value, error = job.do(), None
        except Exception as raised:  # noqa: BLE001 - told by the other process
            raised.add_note("".join(traceback.format_exception(raised)).rstrip())
            value, error = None, raised
    warned = tuple(
        _Warned(str(one.message), one.category, one.filename, one.lineno)
        for one in given
    )
    return _Answer(value, error, warned)
