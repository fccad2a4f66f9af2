"""Plays a test again where it failed while the machine stood still or gave it next to nothing, and says so in the end.

Whatever a test is about, it hands something from one thread or process to another sooner or later, and a pass that
makes way for others gets little of the processors for long. A test that fails though nothing held it up has failed, and
so has one that fails three times.
"""

from __future__ import annotations

import gc
import time
import warnings
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import pytest
from _pytest.runner import runtestprotocol

from tools.witness import Share, Witness

if TYPE_CHECKING:
    from xdist.workermanage import WorkerController

GOES: Final = 3
LITTLE: Final = 0.2
"""Who gets less than this of the time in which it could have run was held up."""
_TOLD: Final = "held up"
_SHARED: Final = "witness"
_witness: list[Witness] = []
_besides: list[str] = []


def the_witness(shared: str = "") -> Witness:
    """Return this session's witness, who begins to watch when first asked for; a worker's is its main process's."""
    if not _witness:
        _witness.append(Witness(shared))
    return _witness[0]


def name_besides(words: str) -> None:
    """Have something else that was done again named at the end, with the tests; in a process that has no workers."""
    _besides.append(words)


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: WorkerController) -> None:
    """Tell a worker, as it starts, where the one witness writes: each costs a hundredth of a processor and more."""
    node.workerinput[_SHARED] = the_witness().place


def pytest_sessionstart(session: pytest.Session) -> None:
    """Ask that one, where this is such a worker."""
    if shared := getattr(session.config, "workerinput", {}).get(_SHARED):
        the_witness(shared)


@pytest.fixture
def witness() -> Witness:
    """Who tells for how long the machine stood still."""
    return the_witness()


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool:
    """Play a test, again where the witness saw why it failed."""
    watching = the_witness()
    item.ihook.pytest_runtest_logstart(nodeid=item.nodeid, location=item.location)
    told: list[tuple[str, object]] = []
    for go in range(1, GOES + 1):
        since_ns, share = time.monotonic_ns(), Share()
        reports = runtestprotocol(item, nextitem=nextitem, log=False)
        broke = [report for report in reports if report.failed]
        held = _held(watching, since_ns, share) if broke else ""
        if not held or go == GOES:
            break
        _let_go()
        told.append((_TOLD, f"go {go}: {held}; {_why(broke[0])}"))
    for report in reports:
        if report.when == "call":
            report.user_properties += told
        item.ihook.pytest_runtest_logreport(report=report)
    item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
    return True


def _held(watching: Witness, since_ns: int, share: Share) -> str:
    """Return what held a test up, in words; nothing where nothing did."""
    got = share.got()
    if spans := watching.stalls(since_ns, time.monotonic_ns()):
        return f"{len(spans)} stalls, the longest {max(end - begin for begin, end in spans) / 1e6:.0f} ms"
    return f"got {got:.0%} of the processor that it could have used" if got < LITTLE else ""


def _let_go() -> None:
    """Collect what a go that failed has left open, so that no later test is blamed for it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        gc.collect()


def _why(report: pytest.TestReport) -> str:
    crash = getattr(report.longrepr, "reprcrash", None)
    said = crash.message if crash else report.longreprtext
    return said.splitlines()[0] if said else "it broke"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Name the tests that were played again, and why."""
    rows = [*_rows(terminalreporter), *_besides]
    if rows:
        terminalreporter.section("played again: held up by the machine")
        for row in rows:
            terminalreporter.write_line(row)


def _rows(terminalreporter: pytest.TerminalReporter) -> Iterator[str]:
    for reports in terminalreporter.stats.values():
        for report in reports:
            for name, words in getattr(report, "user_properties", ()):
                if name == _TOLD:
                    yield f"{report.nodeid}, {words}"


def pytest_sessionfinish() -> None:
    """Let the witness go."""
    while _witness:
        _witness.pop().close()
