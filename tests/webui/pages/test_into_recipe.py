"""What a sheet was given goes into its recipe by one tap on its record; and a record leads back to what made it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.foot.acts import Load
from controller.recipe.compile_recipe import more_burn
from controller.store.records import StepRecord
from controller.words import say

ADDRESS = "/act/into-recipe"


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def add_a_burn(desk: StandInDesk, *, seconds: float | None = None, **changes: Any) -> None:
    """Put a sheet of the crane into the records to which a burn through hard was added, of 1/3 stop unless told."""
    record = desk.work(desk.crane, "print", **changes)
    stops = "1/3" if seconds is None else None
    step = more_burn(record.plan, len(record.steps) + 1, filter="hard", stops=stops, seconds=seconds, area="D")
    ms = step.planned_ms
    added = StepRecord(step=step, added=True, given_least_ms=ms, given_most_ms=ms, lit_ms=ms)
    desk.records["print"] = record.model_copy(update={"steps": (*record.steps, added)})


def into(page: Page) -> list[tuple[str, str]]:
    """Return the fields of the first form that puts something into the recipe."""
    form = re.findall(rf'<form method="post" action="{ADDRESS}".*?</form>', page.text, re.DOTALL)[0]
    return re.findall(r'<input type="hidden" name="([\w-]+)" value="([^"]*)"', form)


def asked(phone: Phone, desk: StandInDesk, **more: str) -> list[tuple[str, str]]:
    """Return what a form would send now."""
    token = dict(phone.look("/sheets/print").fields)["token"]
    return [("token", token), ("number", str(desk.status().number)), ("sheet", "print"), *more.items()]


def test_a_burn_added_at_the_enlarger_goes_into_the_recipe_once(phone: Phone, desk: StandInDesk) -> None:
    """One tap makes the recipe's next version with the burn; the record then names it, and a second act is refused."""
    add_a_burn(desk)
    page = phone.look("/sheets/print")
    assert say("page.into-burn") in page.words
    for _ in "a double tap":
        assert phone.send(ADDRESS, into(page)).location == "/sheets/print"
    assert desk.recipes().fetch(desk.crane.id).version == 2
    added = desk.recipes().recipe(desk.crane.id).local[-1]
    assert (added.area, added.filter, added.stops) == ("D", "hard", "1/3")
    after = phone.look("/sheets/print")
    assert say("page.into-burn") not in after.words
    assert f"/shelf/{desk.crane.id}?version=2" in after.links
    number = str(desk.records["print"].steps[-1].step.number)
    answer = phone.send(ADDRESS, asked(phone, desk, step=number))
    assert answer.status_code == 422
    assert "since version 2" in Page(answer.text).words
    assert desk.recipes().fetch(desk.crane.id).version == 2


def test_a_burn_goes_into_the_last_version(phone: Phone, desk: StandInDesk) -> None:
    """What was edited since the sheet was made stays, with the burn after it."""
    add_a_burn(desk)
    tree = json.loads(desk.crane.body) | {"title": "Crane at dusk"}
    desk.recipes().save(json.dumps(tree), desk.crane.id)
    phone.send(ADDRESS, into(phone.look("/sheets/print")))
    kept = desk.recipes().fetch(desk.crane.id)
    assert (kept.version, kept.title) == (3, "Crane at dusk")


@pytest.mark.parametrize(("magnification", "stops", "seconds"), [(2.0, None, 2.0), (4.0, "1/3", None)])
def test_a_burn_in_seconds_follows_a_recipe_that_was_carried_to_another_size(
    phone: Phone, desk: StandInDesk, magnification: float, stops: str | None, seconds: float | None
) -> None:
    """Two seconds over a base of 8.0 are log2(10/8), a third of a stop: so it is written where the size is another."""
    add_a_burn(desk, seconds=2.0)
    tree = json.loads(desk.crane.body)
    assert tree["magnification"] == 2.0
    desk.recipes().save(json.dumps(tree | {"magnification": magnification, "title": "Crane, once more"}), desk.crane.id)
    assert phone.send(ADDRESS, into(phone.look("/sheets/print"))).location == "/sheets/print"
    added = desk.recipes().recipe(desk.crane.id).local[-1]
    assert (added.area, added.stops, added.seconds) == ("D", stops, seconds)


def test_a_burn_whose_base_the_recipe_has_lost_is_refused(phone: Phone, desk: StandInDesk) -> None:
    """Where the recipe was edited and has no base for the burn's stops, the refusal says so and nothing is kept."""
    add_a_burn(desk)
    tree = json.loads(desk.crane.body)
    tree |= {"light": [each for each in tree["light"] if each["filter"] != "hard"], "local": []}
    desk.recipes().save(json.dumps(tree), desk.crane.id)
    answer = phone.send(ADDRESS, into(phone.look("/sheets/print")))
    assert answer.status_code == 422
    assert "no base through hard any more" in Page(answer.text).words
    assert desk.recipes().fetch(desk.crane.id).version == 2


@pytest.mark.parametrize("step", ["1", "99"])
def test_only_a_burn_that_was_added_goes_in_by_itself(phone: Phone, desk: StandInDesk, step: str) -> None:
    """A step of the recipe's own, and one that is not there, are no such burn."""
    add_a_burn(desk)
    answer = phone.send(ADDRESS, asked(phone, desk, step=step))
    assert answer.status_code == 422
    assert "no burn that was added" in Page(answer.text).words


def test_what_a_sheet_was_given_becomes_the_next_version(phone: Phone, desk: StandInDesk) -> None:
    """A base stopped early and called given offers it; the new version gives that light, and is offered once."""
    record = desk.work(desk.crane, "print")
    first = record.steps[0].model_copy(update={"given_least_ms": 8000, "given_most_ms": 8000, "called_given": True})
    desk.records["print"] = record.model_copy(update={"steps": (first, *record.steps[1:])})
    page = phone.look("/sheets/print")
    assert say("page.into-all") in page.words
    assert phone.send(ADDRESS, into(page)).status_code == 303
    plan = desk.recipes().plan(desk.crane.id)
    rest = [step.planned_ms for step in record.plan.steps[1:]]
    assert (plan.version, [step.planned_ms for step in plan.steps]) == (2, [8000, *rest])
    after = phone.look("/sheets/print")
    assert say("page.went-in-all", version=2) in after.words
    assert f"/shelf/{desk.crane.id}?version=2" in after.links
    assert ADDRESS not in after.actions


def test_a_sheet_that_makes_no_recipe_says_why(phone: Phone, desk: StandInDesk) -> None:
    """As planned nothing is offered; a spoiled sheet and one in doubt say why not."""
    record = desk.work(desk.crane, "print")
    page = phone.look("/sheets/print")
    assert ADDRESS not in page.actions
    assert "cannot go into" not in page.words
    short = record.steps[0].model_copy(update={"given_least_ms": 4000})
    steps = (short, *record.steps[1:])
    changes: dict[str, Any]
    for changes, said in (
        ({"outcome": "spoiled", "steps": steps}, "before all of it was exposed"),
        ({"steps": steps}, "4.0 to 10.1 s"),
    ):
        desk.records["print"] = record.model_copy(update=changes)
        page = phone.look("/sheets/print")
        assert "cannot go into the recipe" in page.words
        assert said in page.words
        assert ADDRESS not in page.actions


def test_an_open_sheet_and_a_strip_go_into_no_recipe(phone: Phone, desk: StandInDesk) -> None:
    """Neither offers it; who asks all the same is told."""
    add_a_burn(desk, closed=None, outcome="open")
    assert ADDRESS not in phone.look("/sheets/print").actions
    assert "still open" in Page(phone.send(ADDRESS, asked(phone, desk)).text).words
    desk.work(desk.strip, "print")
    assert ADDRESS not in phone.look("/sheets/print").actions
    assert phone.send(ADDRESS, asked(phone, desk)).status_code == 422


# ---- back to what made it


@pytest.mark.parametrize("which", ["crane", "strip"])
def test_a_record_prints_again_what_was_put_away(phone: Phone, desk: StandInDesk, which: str) -> None:
    """What was put away is off the lists, and its sheets lead to it and print it again all the same."""
    kept = getattr(desk, which)
    desk.work(kept, "sheet")
    desk.recipes().put_away(kept.id)
    page = phone.look("/sheets/sheet")
    assert f"/shelf/{kept.id}?version=1" in page.links
    assert say("page.is-away") in phone.look(f"/shelf/{kept.id}?version=1").words
    fields = [pair for pair in page.fields if pair[0] in ("token", "number", "source", "version")]
    assert phone.send("/act/load", fields).status_code == 303
    assert desk.acts[-1][0] == Load(source=kept.id, version=1)


def test_a_record_leads_along_its_thread(phone: Phone, desk: StandInDesk) -> None:
    """A strip's record leads to the recipe of its pick, a print's to its strip and to the print before it."""
    desk.work(desk.strip, "strip")
    page = phone.look("/pick/strip?band=4")
    phone.send("/act/pick", page.typed(recipe=desk.crane.id))
    assert f"/shelf/{desk.crane.id}?version=2" in phone.look("/sheets/strip").links
    second = desk.recipes().fetch(desk.crane.id)
    desk.work(second, "one")
    desk.work(second, "two")
    links = phone.look("/sheets/two").links
    assert {"/sheets/strip", "/sheets/one"} <= set(links)
    assert "/sheets/two" not in phone.look("/sheets/one").links
