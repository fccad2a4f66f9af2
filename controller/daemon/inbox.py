"""The runner's thread: one inbox, in which the keeper's words, the pages' acts and the clock's moments meet."""

from __future__ import annotations

import logging
import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, Final

from controller.daemon.runner import Runner, Word
from controller.errors import KeeperGone
from controller.words import say
from hardware.clock import Clock

_log = logging.getLogger(__name__)
_IDLE_S: Final = 1.0
ANSWER_S: Final = 5.0
"""So long a page waits for the runner."""


@dataclass(frozen=True, slots=True)
class Job:
    """Something to be done on the runner's thread, and where its answer goes."""

    work: Callable[[], Any]
    answer: Future[Any]


class Inbox:
    """Owns the thread. What is put in is taken in order; what is due is done in between."""

    def __init__(self, clock: Clock, broken: Callable[[Exception], None]) -> None:
        self._clock, self._broken = clock, broken
        self._runner: Runner | None = None
        self._first: Callable[[], object] = lambda: None
        self._queue: queue.SimpleQueue[Word | Job | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="runner", daemon=True)
        self.beat_ns = clock.now_ns()
        """When the thread last came round: what a watchdog looks at."""

    def start(self, runner: Runner, first: Callable[[], object] = lambda: None) -> None:
        """Start the thread: it does `first`, then takes what has been put in already, in order."""
        self._runner, self._first = runner, first
        self._thread.start()

    def put(self, word: Word) -> None:
        """Put a word in, from any thread."""
        self._queue.put(word)

    def call(self, work: Callable[[], Any]) -> Future[Any]:
        """Have `work` done on the runner's thread; the future has its answer or its error."""
        answer: Future[Any] = Future()
        self._queue.put(Job(work, answer))
        return answer

    def ask(self, work: Callable[[], Any], within_s: float | None = None, *, even_late: bool = False) -> Any:
        """Have `work` done on the runner's thread and return its answer.

        What is not begun in time is not done later, unless `even_late`: what follows from what is kept already.

        Raises:
            KeeperGone: nobody has answered within `ANSWER_S`, or within `within_s` where given.
        """
        answer = self.call(work)
        try:
            return answer.result(ANSWER_S if within_s is None else within_s)
        except TimeoutError:
            if not even_late:
                # whoever asked is told that nothing came of it: a light must not come of it after all
                answer.cancel()
            raise KeeperGone(say("foot.keeper-away")) from None

    def close(self) -> None:
        """Take what is in, then end the thread; nothing to do where it was never started."""
        if self._runner is not None:
            self._queue.put(None)
            self._thread.join()

    def _run(self) -> None:
        try:
            self._first()
            while self._turn():
                pass
        except Exception as problem:  # noqa: BLE001 - a thread's top; whatever broke, dark is the answer
            _log.exception("the runner broke; the keeper is told dark")
            try:
                self._broken(problem)
            finally:
                self._refuse_all()

    def _turn(self) -> bool:
        runner = self._runner
        assert runner is not None
        now_ns = self._clock.now_ns()
        self.beat_ns = now_ns
        due_ns = runner.due_ns()
        wait_s = _IDLE_S if due_ns is None else min(_IDLE_S, max(0.0, (due_ns - now_ns) / 1e9))
        try:
            item = self._queue.get(timeout=wait_s) if wait_s else self._queue.get_nowait()
        except queue.Empty:
            runner.advance(self._clock.now_ns())
            return True
        match item:
            case None:
                return False
            case Job():
                self._do(item)
            case _:
                runner.take(item, self._clock.now_ns())
        runner.advance(self._clock.now_ns())
        return True

    def _do(self, job: Job) -> None:
        if not job.answer.set_running_or_notify_cancel():
            return
        try:
            job.answer.set_result(job.work())
        except Exception as problem:  # noqa: BLE001 - the answer carries it to whoever asked
            job.answer.set_exception(problem)

    def _refuse_all(self) -> None:
        """Answer what still comes in, so that no page waits for ever."""
        while (item := self._queue.get()) is not None:
            if isinstance(item, Job) and item.answer.set_running_or_notify_cancel():
                item.answer.set_exception(KeeperGone(say("foot.place-fault-runner")))
