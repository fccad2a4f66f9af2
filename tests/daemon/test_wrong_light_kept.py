"""A light that was far too strong, in the record, after a restart, and in the columns of a sheet."""

from __future__ import annotations

import pytest
from tools.foot_bench import FootBench, one_step, sheet_plan

from controller.daemon.recovery import file_unfinished, reopen
from controller.foot.events import LevelWrong
from controller.foot.places import Light
from controller.store.columns import COLUMNS, dose_words, said_of
from controller.store.entries import Intent, LightCame
from controller.store.levels import Dose, LevelKey
from hardware.slate import Page

MS = 1_000_000


def stopped(found: str = "open", stops: float | None = 3.0, filter_: str = "") -> FootBench:
    """Return a sheet whose 12 s of soft light were ended after half a second."""
    bench = FootBench(sheet_plan(one_step(planned_ms=12_000)))
    bench.light(500)
    assert isinstance(bench.place, Light)
    bench.ask(LevelWrong(bench.place.order, found, stops, filter_, bench.now_ns))  # type: ignore[arg-type]
    bench.run(2000)
    return bench


@pytest.mark.parametrize(
    ("found", "stops", "filter_"), [("open", 3.0, ""), ("filter", 2.7, "hard"), ("dazzled", None, "")]
)
def test_a_restart_goes_on_where_the_grammar_stood(found: str, stops: float | None, filter_: str) -> None:
    """What is reckoned from the record alone is what the grammar had: no light is given twice, none is lost."""
    bench = stopped(found, stops, filter_)
    work = bench.state.work
    assert work is not None
    again = reopen(bench.sheet, 0, "virtual").work
    assert [(each.least_ns, each.most_ns, each.done) for each in again.given] == [
        (each.least_ns, each.most_ns, each.done) for each in work.given
    ]
    assert again.missing_ns(0) == work.missing_ns(0)
    assert (again.doubt(0) is None) == (work.doubt(0) is None) == (found != "dazzled")


def test_a_verdict_that_died_with_its_daemon_leaves_a_doubt() -> None:
    """Dark for its level, and nobody is left who knows how strong it was: from its own time to the whole."""
    intent = Intent(light="x", sheet="s", step=1, part=1, filter="soft", lit_ms=12_000, start_ns=0)
    page = Page("boot", 1, id="x", on_ns=1000 * MS, dark_ns=1500 * MS, lit_ms=12_000, why="level")
    (came,) = file_unfinished([], [intent], [page], "boot", 2000 * MS)
    assert isinstance(came, LightCame)
    assert (came.why, came.least_ns, came.most_ns) == ("level", 500 * MS, 12_000 * MS)


def dose(bench: FootBench, light: str, stops: float | None) -> None:
    bench.journal.append(
        Dose(sheet=bench.sheet.id, light=light, sensor="s", level=1.0, at=LevelKey(filter="soft"), stops=stops)
    )


def columns(bench: FootBench) -> dict[str, object]:
    return {column.name: column.take(bench.sheet, bench.sheet.steps[0]) for column in COLUMNS}


def test_a_saved_step_has_its_dose_in_the_record() -> None:
    """4.0 s counted and 8.0 s given a tenth of a stop too weak: log2((4 + 8·2^−0.1)/12) is −0.066 (derived)."""
    bench = stopped()
    bench.give()
    first, second = bench.sheet.steps[0].parts
    dose(bench, first.light, 3.0)
    assert columns(bench)["dose_stops"] == ""
    dose(bench, second.light, -0.1)
    assert columns(bench)["dose_stops"] == pytest.approx(-0.066, abs=0.001)
    assert "0.07 stop less light than planned" in said_of(bench.sheet, bench.sheet.steps[0])


@pytest.mark.parametrize(
    ("stops", "words"),
    [
        (None, "light not watched: the first of its kind"),
        (0.02, "light as planned"),
        (0.5, "0.50 stop more light than planned"),
    ],
)
def test_the_dose_in_words(stops: float | None, words: str) -> None:
    """A step that no sensor looked at says nothing; one that was seen says how strong it was."""
    bench = FootBench(sheet_plan(one_step(planned_ms=4000)))
    bench.give()
    assert dose_words(bench.sheet.steps[0]) == ""
    dose(bench, bench.sheet.steps[0].parts[0].light, stops)
    assert dose_words(bench.sheet.steps[0]) == words
