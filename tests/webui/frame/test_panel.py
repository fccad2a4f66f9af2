"""The panel: for every place at most four items, words with every figure, and only the acts that make sense."""

from __future__ import annotations

import re
import time
from typing import Any, get_args

import pytest
from tools.phone import Paired, words_of
from tools.stand_in_desk import PLAN, StandInDesk, next_step, step_lines

from controller.foot.acts import ACT
from controller.foot.status import Doubt, LitNow, PlaceName, Status
from controller.recipe.plan import Hands, Plan, Step, StepKind
from controller.store.versions import Kept
from controller.words import say
from webui.frame.panel import ELSEWHERE, FEW, Panel, panel_of
from webui.pages.acts import BY_ADDRESS
from webui.wording import lit_line, moment, seconds, span

PLACES: tuple[PlaceName, ...] = get_args(PlaceName)
LIT: set[PlaceName] = {"light", "focus light"}
OPEN: dict[str, Any] = {
    "plan": PLAN,
    "next": next_step(2),
    "steps": step_lines(),
    "sheet": "s1",
    "sheet_number": 5,
    "open": True,
    "just_given": "Given: soft base, 10.1 s.",
    "safe_left_s": 190,
}


def _kept(kind: str) -> list[Kept]:
    return [Kept(id=f"{kind}{n}", version=1, kind=kind, title=f"{kind} {n}", body="", made="") for n in range(7)]  # type: ignore[arg-type]


def _panel(**changes: Any) -> Panel:
    values = {"number": 1, "at_ns": 0, "place": "ready", "headline": "Press to begin.", **OPEN, **changes}
    return panel_of(Status(**values), _kept)


def _lit(place: PlaceName) -> dict[str, Any]:
    kind = "step" if place == "light" else "focus"
    return {"lit": LitNow(kind=kind, on_ns=0, lit_ms=10100), "stop_possible": True} if place in LIT else {}


@pytest.mark.parametrize("place", PLACES)
def test_every_place_can_be_read(phone: Paired, desk: StandInDesk, place: PlaceName) -> None:
    """Wherever the grammar stands, page and fragment say so in the controller's words, with at most four items."""
    desk.show(place=place, headline=f"This is {place}.", **OPEN, **_lit(place))
    for address in ("/", "/now"):
        answer = phone.look(address)
        assert answer.status_code == 200
        assert f"This is {place}." in words_of(answer)
        items = re.findall(r'<(?:p|h1) class="(ends|lead|given|doubt)"', answer.text)
        assert len(items) == len(set(items)) <= 4
        assert ("burn A" in re.sub(r"<p class=.lit-line.*?</p>", "", answer.text)) is (place not in ELSEWHERE)


@pytest.mark.parametrize("place", PLACES)
def test_no_figure_stands_alone(phone: Paired, desk: StandInDesk, place: PlaceName) -> None:
    """Nowhere on the page is a number by itself: words or a unit stand with it in the same item."""
    desk.show(place=place, headline="Press to begin.", **OPEN, **_lit(place), can=("close", "call given"))
    for text in re.findall(r">([^<>]+)<", re.sub(r"</?small>", "", phone.look("/now").text)):
        assert not re.fullmatch(r"\s*[\d.,:]+\s*", text), text


def test_the_next_step_leads() -> None:
    """Verb and area come first, then what it is, the filter's word and texture, and the seconds."""
    panel = _panel()
    assert (panel.big, panel.sub, panel.filter, panel.texture, panel.light) == (
        "burn A",
        "sky · step 2 of 3",
        "soft",
        "soft",
        "10.1 s",
    )
    assert panel.sheet == "sheet 5"
    assert panel.safe is not None
    assert panel.safe.words == "3 min safe"
    assert panel.given == "Given: soft base, 10.1 s."


def test_a_held_step_shows_what_is_left() -> None:
    """The remainder is what the next light brings, so it stands in the seconds' place, the whole beside it."""
    panel = _panel(place="held", next=next_step(2, remaining_ms=4600))
    assert (panel.light, panel.left_of) == ("4.6 s", "left of 10.1 s")
    assert _panel().left_of == ""


def test_hands_and_card_are_asked_for_in_words() -> None:
    """What the hands do first stands beneath, in the trade's words."""
    panel = _panel(next=next_step(2, hands=Hands.OPAL_IN, card="No card yet."))
    assert panel.hands == ("put the opal under the lens", "No card yet.")


def test_a_name_that_says_nothing_new_is_left_out() -> None:
    """“hard base” beneath “base” with the filter's word would say the same thing twice."""
    assert _panel(next=next_step(3)).sub == "step 3 of 3"
    assert _panel(next=next_step(3, name="hard base, open")).sub == "hard base, open · step 3 of 3"


def test_a_filter_that_is_a_number_is_called_one() -> None:
    """A filter named by a number never stands alone: not in the panel, not in the light's one line."""
    step = next_step(1, filter="2")
    panel = _panel(next=step)
    assert (panel.filter, panel.texture) == ("filter 2", "other")
    shown = Status(number=1, at_ns=0, place="light", headline="Light.", **{**OPEN, "next": step}, **_lit("light"))
    assert lit_line(shown).endswith("filter 2")
    assert _panel().filter == "soft"


def test_a_band_is_counted_once() -> None:
    """“band 3 of 7” says already which step it is; another count beside it is left out."""
    assert _panel(next=next_step(3, name="band 3 of 7", verb="band", of=7)).sub == ""
    assert _panel(next=next_step(3, name="band 2 of 7", verb="band", of=8)).sub == "step 3 of 8"


def test_on_a_strip_the_count_leads() -> None:
    """A band's number of how many is the largest, the verb small above it, the filter's word below as ever."""
    panel = _panel(next=next_step(3, name="band 3 of 7", verb="band", of=7, area="", filter="2"))
    assert (panel.leads, panel.over, panel.big, panel.filter) == ("count", "band", "3 of 7", "filter 2")


@pytest.mark.parametrize(
    ("changes", "over", "big", "sub"),
    [
        ({"filter": "hard"}, "put in", "hard", "burn A · sky · step 2 of 3"),
        ({"filter": "2"}, "put in filter", "2", "burn A · sky · step 2 of 3"),
        ({"name": "band 2 of 7", "verb": "band", "area": "", "what": "", "of": 7}, "put in", "soft", "band 2 of 7"),
        (
            {"name": "soft base, open", "verb": "base", "area": "", "what": ""},
            "put in",
            "soft",
            "soft base, open · step 2 of 3",
        ),
    ],
)
def test_at_a_change_of_filter_its_word_leads(changes: dict[str, Any], over: str, big: str, sub: str) -> None:
    """What is to be put in is the largest and is said once; seconds follow, then what the light is for."""
    panel = _panel(place="change filter", next=next_step(2, **changes))
    assert (panel.leads, panel.over, panel.big, panel.filter, panel.sub) == ("put", over, big, "", sub)
    assert panel.light == "10.1 s"


def test_a_lone_number_of_a_filter_is_called_one_where_it_leads(phone: Paired, desk: StandInDesk) -> None:
    """“2” as the largest word stands in one item with “put in filter”, so that it is read and heard as a filter."""
    desk.show(**{**OPEN, "next": next_step(2, filter="2")}, place="change filter", headline="Put the 2 filter in.")
    assert re.search(r'<p class="big"><small>put in filter</small> 2</p>', phone.look("/now").text)


ELSEWHERE_ASKED = {
    "pick",
    "remark",
    "change-remark",
    "take-back-remark",
    "looked",
    "at-the-enlarger",
    "into-recipe",
    "reference-print",
    "take-offer",
    "refuse-offer",
}
"""Acts whose forms stand on pages of their own."""


@pytest.mark.parametrize("act", sorted(BY_ADDRESS.keys() - ELSEWHERE_ASKED))
def test_only_acts_that_make_sense_are_offered(phone: Paired, desk: StandInDesk, act: str) -> None:
    """A verb's form stands on the page exactly when the status offers the verb."""
    verb = act.replace("-", " ")
    doubt = Doubt(light="l1", step=2, least_ms=2100, most_ms=4600)
    day = {"day_until_ns": desk.now_ns() + 10**12} if verb in {"ask focus", "paper out"} else {}
    desk.show(**{**OPEN, **day}, place="ready", headline="Press.", doubt=doubt, can=())
    first, second, *rest = step_lines()
    desk.show(steps=(first, second.model_copy(update={"state": "left out"}), *rest))
    assert f'action="/act/{act}"' not in phone.look("/").text
    desk.show(can=(verb,))
    assert f'action="/act/{act}"' in phone.look("/").text


def test_what_cannot_be_taken_back_takes_two_taps(phone: Paired, desk: StandInDesk) -> None:
    """Each such act is folded behind a first tap, without any dialog of the browser's."""
    doubt = Doubt(light="l1", step=2, least_ms=2100, most_ms=4600)
    verbs = ("start", "call given", "leave out", "more burn", "no light", "close", "assume", "paper away")
    desk.show(**OPEN, place="held", headline="Held.", doubt=doubt, can=verbs)
    text = phone.look("/").text
    for verb in verbs:
        for at in re.finditer(f'action="/act/{verb.replace(" ", "-")}"', text):
            before = text[: at.start()]
            assert before.rfind("<details") > before.rfind("</details>"), verb
    assert "confirm(" not in text


def test_one_more_burn_is_chosen_not_typed(phone: Paired, desk: StandInDesk) -> None:
    """In the dark there is nothing to type: amounts, filters with a base and the sheet's letters are choices."""
    desk.show(**OPEN, place="finished", headline="Finished.", can=("more burn",))
    text = phone.look("/now").text
    assert re.findall(r'name="amount" value="([^"]+)"', text) == ["stops 1/4", "stops 1/2", "stops 1"]
    assert re.findall(r'name="filter" value="([^"]+)"', text) == ["soft", "hard"]
    assert re.findall(r'name="area" value="([^"]*)"', text) == ["", "A"]
    assert set(re.findall(r'<input type="(\w+)"', text)) <= {"radio", "hidden"}
    assert "<textarea" not in text


def test_a_burn_begins_with_what_is_at_hand() -> None:
    """The filter that is in the drawer, else the next light's, else the first of the sheet, is chosen beforehand."""
    assert _panel(filter_in="hard").burn_filter == "hard"
    assert _panel(filter_in="").burn_filter == next_step(2).filter == "soft"
    assert _panel(filter_in="5", next=next_step(3)).burn_filter == "hard"
    assert _panel(next=None).burn_filter == "soft"
    assert _panel(plan=None, next=None).burn_filter == ""


def test_without_a_base_a_burn_is_in_seconds() -> None:
    """A strip has no base that stops could be reckoned on."""
    band = Step(number=1, name="band 1 of 1", act=StepKind.BAND, filter="2", planned_ms=3000)
    panel = _panel(plan=Plan(source="s", version=1, kind="strip", title="Proof", steps=(band,)))
    assert panel.burn_filters == ("2",)
    assert [amount.value for amount in panel.burn_amounts] == ["seconds 1", "seconds 2", "seconds 4", "seconds 8"]


def test_troubles_are_folded_away_in_the_dark(phone: Paired, desk: StandInDesk) -> None:
    """In the dark one line says that something wants mending, sentences a tap away; by day they stand open."""
    told = ("No real-time priority: see check.", "The card is slow.")
    desk.show(**OPEN, place="ready", headline="Press to begin.", troubles=told)
    text = phone.look("/now").text
    assert '<details class="troubles"><summary>2 problems</summary>' in text
    assert all(sentence in text for sentence in told)
    desk.say_day()
    assert '<details class="troubles" open>' in phone.look("/now").text


def test_doubt_is_put_as_three_choices(phone: Paired, desk: StandInDesk) -> None:
    """Least, middle and most are offered in seconds, each for the light in doubt."""
    desk.show(
        **OPEN,
        place="open after a restart",
        headline="Sheet 5 was open.",
        doubt=Doubt(light="l7", step=2, least_ms=2100, most_ms=4600),
        can=("assume",),
    )
    answer = phone.look("/")
    assert re.findall(r'name="which" value="(\w+)"', answer.text) == ["least", "middle", "most"]
    assert answer.text.count('name="light" value="l7"') == 3
    for words in ("the least: 2.1 s", "the middle: 3.4 s", "the most: 4.6 s"):
        assert words in words_of(answer)


def test_few_are_listed_and_the_rest_is_one_tap_away(phone: Paired, desk: StandInDesk) -> None:
    """The panel shows the few used last; /choose shows all; with a sheet open nothing may be loaded."""
    desk.lay(*_kept("recipe"))
    text = phone.look("/").text
    assert text.count('action="/act/load"') == FEW
    assert 'href="/choose"' in text
    assert phone.look("/choose").text.count('action="/act/load"') == 7
    desk.show(can=(), open=True)
    assert say("page.choose-not-now") in words_of(phone.look("/choose"))


def test_strips_are_at_hand_however_many_recipes_there_are() -> None:
    """An evening begins with a strip: many recipes do not push strips off the first page, nor few leave it empty."""
    panel = _panel(can=("load",), open=False)
    assert [choice.kind for choice in panel.choices] == ["recipe"] * 3 + ["strip"] * 2
    values = {"number": 1, "at_ns": 0, "place": "ready", "headline": "Press.", **OPEN, "can": ("load",), "open": False}
    alone = panel_of(Status(**values), lambda kind: _kept(kind)[: 1 if kind == "recipe" else 7])
    assert [choice.kind for choice in alone.choices] == ["recipe"] + ["strip"] * 4


def test_the_shelf_is_not_asked_while_nothing_may_be_loaded() -> None:
    """A snapshot of an open sheet is painted without a look at the shelf."""
    values = {"number": 1, "at_ns": 0, "place": "light", **OPEN}
    panel_of(Status(**values), lambda kind: pytest.fail("the shelf was asked"))


def test_one_line_names_the_light() -> None:
    """While the lamp is lit there is exactly one line; in the dark there is none."""
    step = Status(number=1, at_ns=0, place="light", lit=LitNow(kind="step", on_ns=0, lit_ms=1), next=next_step(2))
    assert lit_line(step) == "light: burn A, soft"
    focus = Status(number=1, at_ns=0, place="focus light", lit=LitNow(kind="focus", on_ns=0, lit_ms=1))
    assert lit_line(focus) == say("page.lit-focus")
    assert lit_line(Status(number=1, at_ns=0, place="ready", next=next_step(2))) == ""


@pytest.mark.parametrize(
    ("ms", "words"),
    [(0, "0.0"), (49, "0.0"), (50, "0.1"), (10100, "10.1"), (10149, "10.1"), (10150, "10.2"), (-4600, "−4.6")],
)
def test_seconds_are_shown_to_a_tenth_half_up(ms: int, words: str) -> None:
    """What is shown is the nearest tenth, half up."""
    assert seconds(ms) == words


def test_a_span_is_one_figure_where_both_ends_read_the_same() -> None:
    """Least and most are told apart only where they read differently."""
    assert span(4600, 4604) == "4.6"
    assert span(2100, 4600) == "2.1 to 4.6"


def test_a_moment_is_told_in_the_time_of_the_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wall times are kept in UTC and shown as the clock on the wall has it; without a clock that is said."""
    monkeypatch.setenv("TZ", "UTC-2")  # POSIX: two hours ahead of UTC
    time.tzset()
    try:
        assert moment("2024-03-01T20:15:00+00:00") == "2024-03-01 22:15"
    finally:
        monkeypatch.delenv("TZ")
        time.tzset()
    assert moment("") == say("page.clock-not-set")


def test_titles_cannot_bring_html_along(phone: Paired, desk: StandInDesk) -> None:
    """Whatever a printer calls a recipe is shown as words."""
    desk.lay(Kept(id="x", version=1, kind="recipe", title="<img src=x>&", body="", made=""))
    assert "<img" not in phone.look("/").text
    assert "<img src=x>&" in words_of(phone.look("/"))


def test_every_verb_is_an_act() -> None:
    """The addresses' verbs are the controller's own."""
    assert ACT.validate_python({"verb": "close"}).verb == "close"
