"""What holds of steps without light over whole evenings, judged from the rows alone; and sheets that have them."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from controller.recipe.compile_recipe import compile_recipe
from controller.recipe.files import read_tree
from controller.recipe.plan import Ask, Hands, Plan
from controller.recipe.recipe import Recipe
from controller.store.entries import Closed, HandsDone, Intent, LightCame, Loaded, SheetPlanned

if TYPE_CHECKING:
    from tools.laws import History


def asking_plan(dice: random.Random) -> Plan:
    """Return a short sheet with asks: two negatives or one, masks for areas and for bases, words for the hands."""
    times = [dice.choice([0.3, 0.9, 1.7, 2.5]) for _ in range(6)]
    pairs = dice.sample([("soft", "A"), ("soft", "B"), ("hard", "A"), ("hard", "B")], dice.randint(1, 3))
    light: list[dict[str, Any]] = [{"filter": f, "seconds": s} for (f, _), s in zip(pairs, times, strict=False)]
    if dice.random() < 0.7 or len({f for f, _ in pairs}) < len(pairs):
        light = [each | {"carrier": carrier} for each, (_, carrier) in zip(light, pairs, strict=True)]
    areas = dice.sample("MNSC", dice.randint(0, 2))
    local = [
        {"area": area, "act": "burn", "filter": dice.choice(light)["filter"], "stops": "1/2", "words": "slowly"}
        for area in areas
    ]
    tools = [
        {"letter": letter, "kind": kind, "name": name}
        for letter, kind, name in (("M", "mask", "sky mask"), ("N", "blade", "left edge"), ("C", "card", "big card"))
        if dice.random() < 0.8
    ]
    words = ["sky mask", "left edge", "wait for the easel", "turn the fan", "left edge, sky mask"]
    lines = len(light) + len(local)
    befores = [dice.choice([*range(1, lines + 1), "end"]) for _ in range(dice.randint(1, 4))]
    hands = [{"before": before, "words": f"{dice.choice(words)} {n}"} for n, before in enumerate(befores)]
    flash = {"seconds": 0.3, "way": dice.choice(["no negative", "opal under the lens"])}
    tree = {
        "format": "treadle/recipe/2",
        "title": "clouds",
        "light": light,
        "local": local,
        "hands": hands,
        **({"tools": tools} if tools else {}),
        **({"flash": flash} if dice.random() < 0.2 else {}),
    }
    made = read_tree(tree, "asking")
    assert isinstance(made, Recipe)
    return compile_recipe(made, source="clouds", version=1)


def no_light_goes_past_what_is_asked(h: History) -> Iterator[str]:
    """Each light of a sheet has the carrier and the masks in that its step wants, and every word before it answered."""
    assert h.journal is not None
    plans: dict[str, Plan] = {}
    answered: dict[str, list[Ask]] = {}
    carrier, place, opened, source = "", set[str](), "", h.source
    ends = {row.entry.light: row.entry for row in h.journal.rows if isinstance(row.entry, LightCame)}
    restarts = sorted(h.restarts)
    for row in h.journal.rows:
        while restarts and restarts[0] <= row.at_ns:
            del restarts[0]
            carrier = ""
            if not opened:
                place, source = set(), h.source
        match row.entry:
            case SheetPlanned(sheet=sheet, plan=plan):
                plans[sheet] = plan
            case Loaded(source=chosen):
                carrier, place = "", place if chosen == source else set()
                source = chosen
            case Closed():
                carrier, opened = "", ""
            case HandsDone(undone=True, sheet=sheet, ask=ask):
                answered[sheet].remove(ask)
                carrier, place = _replayed(answered[sheet], carrier, place, ask)
            case HandsDone(sheet=sheet, ask=ask):
                answered.setdefault(sheet, []).append(ask)
                carrier, place = ask.carrier or carrier, place - set(ask.takes) | set(ask.brings)
            case Intent(light_kind="focus", light=light) if (came := ends.get(light)) and came.most_ns > 0:
                carrier = ""
            case Intent(light_kind="step", sheet=sheet, light=light, step=number) if sheet in plans:
                came = ends.get(light)
                if came is None or came.most_ns <= 0:
                    continue
                opened = sheet
                steps = plans[sheet].steps
                step = steps[number - 1] if number <= len(steps) else None
                wanted = set(step.in_place) if step else set()
                # a flash's negative is asked back without a row: whoever put it back put in that step's own
                back = [each.carrier for each in steps[:number] if each.hands is Hands.NEGATIVE_BACK]
                carrier = carrier or (back[-1] if back else "")
                if place != wanted:
                    yield f"light of step {number} at {came.on_ns} with {sorted(place)} in place of {sorted(wanted)}"
                if step and step.carrier and carrier != step.carrier:
                    yield f"light of step {number} at {came.on_ns} through carrier {carrier or 'unknown'}"
                for ask in (ask for each in steps[:number] for ask in each.asks if ask.kind == "hands"):
                    if ask not in answered.get(sheet, []):
                        yield f"light of step {number} at {came.on_ns} before “{ask.words}” was answered"
            case _:
                pass


def _replayed(done: list[Ask], carrier: str, place: set[str], undone: Ask) -> tuple[str, set[str]]:
    """Return what is in once an answer was taken back: what it changed is as it was."""
    named = [ask.carrier for ask in done if ask.carrier]
    return (named[-1] if named else "") if undone.carrier else carrier, place - set(undone.brings) | set(undone.takes)


def an_answer_is_a_press(h: History) -> Iterator[str]:
    """What the hands did is answered by a foot-down of its own, with no light on and none announced by it."""
    assert h.journal is not None
    firsts = {down.first for down in h.downs}
    lead = h.habits.timing.lead_in_ms * 1_000_000
    kinds = {entry.light: entry.light_kind for entry in h.journal.of(Intent)}
    steps = [came.on_ns for came in h.journal.of(LightCame) if came.most_ns > 0 and kinds[came.light] == "step"]
    for done in (each for each in h.journal.of(HandsDone) if not each.undone):
        if done.at_ns not in firsts:
            yield f"“{done.ask.words}” was answered at {done.at_ns} by no foot-down"
        if any(on <= done.at_ns < off for on, off in h.lights):
            yield f"“{done.ask.words}” was answered in a light at {done.at_ns}"
        if any(done.at_ns + lead <= on <= done.at_ns + lead + 100_000_000 for on in steps):
            yield f"the answer at {done.at_ns} began a light"


HANDS_LAWS: tuple[Callable[[History], Iterator[str]], ...] = (no_light_goes_past_what_is_asked, an_answer_is_a_press)
