"""A second process: its jobs, its errors, and that nothing of it stays behind."""

from __future__ import annotations

import operator
import os
import signal
import subprocess
import sys
import threading
import time
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest

from claimlens.errors import InputError
from claimlens.second import (
    Job,
    ProcessLostError,
    Second,
    done_alone,
    second_process,
    usable_cores,
)
from claimlens.stats.intervals import wilson

ROOT = Path(__file__).resolve().parents[3]
SCRIPT = """
import os, sys, time
from claimlens.second import second_process
print("script begins", flush=True)
with second_process() as second:
    print(second.submit(os.getpid).result(), flush=True)
    {then}
print("script ends", flush=True)
"""


@pytest.fixture(scope="module")
def second() -> Iterator[Second]:
    with second_process() as found:
        yield found


def is_there(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def is_gone_soon(process: int) -> bool:
    for _ in range(200):
        if not is_there(process):
            return True
        time.sleep(0.05)
    return False


def test_calls_are_made_in_another_process(second: Second) -> None:
    assert second.submit(os.getpid).result() != os.getpid()


def test_calls_are_made_in_their_order(second: Second) -> None:
    asked = [second.submit(operator.mul, number, number) for number in range(50)]
    assert [one.result() for one in asked] == [number**2 for number in range(50)]


def test_shared_jobs_give_what_one_process_gives(second: Second) -> None:
    jobs = [Job(operator.pow, (number, 3)) for number in range(101)]
    assert second.share(jobs) == done_alone(jobs)
    assert second.share([]) == []


def test_both_processes_do_some_of_the_shared_jobs(second: Second) -> None:
    jobs = [Job(time.sleep, (0.2,)), Job(os.getpid), Job(os.getpid)]
    assert os.getpid() in second.share(jobs)
    # while this one is busy with the last job, the other one does the rest
    first, *_ = second.share([Job(os.getpid), Job(os.getpid), Job(time.sleep, (0.5,))])
    assert first != os.getpid()


def test_an_error_there_is_raised_here_with_all_its_parts(second: Second) -> None:
    with pytest.raises(InputError) as here:
        wilson([3], [2])
    with pytest.raises(InputError) as there:
        second.submit(wilson, [3], [2]).result()
    assert str(there.value) == str(here.value)
    assert there.value.__dict__.items() >= here.value.__dict__.items()
    # where it was raised is told with it
    assert "intervals" in "".join(there.value.__notes__)


def test_an_error_of_a_shared_job_is_raised(second: Second) -> None:
    jobs = [Job(wilson, ([3], [2])), *[Job(time.sleep, (0.01,))] * 3]
    with pytest.raises(InputError):
        second.share(jobs)
    assert second.submit(operator.add, 1, 1).result() == 2


def test_warnings_there_are_given_here(second: Second) -> None:
    with pytest.warns(FutureWarning, match="mind the step"):
        second.submit(warnings.warn, "mind the step", FutureWarning).result()


def test_what_is_printed_there_does_not_stand_between_the_answers(
    second: Second,
) -> None:
    assert second.submit(print, "a line").result() is None
    assert second.submit(os.system, "echo another").result() == 0
    assert second.submit(operator.add, 2, 2).result() == 4


def test_a_second_process_reads_on_one_core(second: Second) -> None:
    assert second.submit(usable_cores).result() == 1
    assert usable_cores() >= 1


def test_what_cannot_be_sent_is_told(second: Second) -> None:
    with pytest.raises(ProcessLostError):
        second.submit(lambda: 1).result()
    with pytest.raises(ProcessLostError):
        second.submit(threading.Lock).result()
    assert second.submit(operator.add, 2, 3).result() == 5


def test_a_process_that_ends_is_told() -> None:
    with second_process() as second:
        with pytest.raises(ProcessLostError):
            second.submit(os._exit, 3).result()
        with pytest.raises(ProcessLostError):
            second.share([Job(time.sleep, (0.1,))] * 4)


@pytest.mark.parametrize(
    ("name", "value"), [("executable", "no such program"), ("path", [])]
)
def test_a_process_that_cannot_start_is_told(
    name: str, value: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    # no interpreter, or one that finds no claimlens
    monkeypatch.setattr(sys, name, value)
    with pytest.raises(ProcessLostError), second_process() as second:
        second.submit(operator.add, 1, 1).result()


def test_nothing_of_it_stays_behind() -> None:
    before = set(threading.enumerate())
    with second_process() as second:
        process = second.submit(os.getpid).result()
        waiting = second.submit(time.sleep, 600)
    assert is_gone_soon(process)
    assert set(threading.enumerate()) == before
    with pytest.raises(ProcessLostError):
        waiting.result()


def started(then: str) -> tuple[subprocess.Popen[str], int]:
    """Start a script without a main guard that starts a second process."""
    script = subprocess.Popen(
        [sys.executable, "-c", SCRIPT.format(then=then)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert script.stdout is not None
    assert script.stdout.readline() == "script begins\n"
    return script, int(script.stdout.readline())


def test_a_script_without_a_main_guard_runs_once() -> None:
    script, process = started("pass")
    out, errors = script.communicate(timeout=60)
    assert (out, errors, script.returncode) == ("script ends\n", "", 0)
    assert is_gone_soon(process)


@pytest.mark.skipif(sys.platform == "win32", reason="signals of another kind")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_killed_it_leaves_no_process_at_work(how: signal.Signals) -> None:
    script, process = started("second.submit(time.sleep, 600).result()")
    script.send_signal(how)
    _, errors = script.communicate(timeout=60)
    assert script.returncode != 0
    assert is_gone_soon(process)
    assert errors.count("Traceback") == (1 if how == signal.SIGINT else 0)
