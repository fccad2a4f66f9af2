"""The shelf's pages, pressed by a thumb without scripts: nothing typed is lost, and only "keep" keeps."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

import pytest
from tools.shelf_phone import ORIGIN, Page, Phone, unpaired
from tools.stand_in_desk import StandInDesk, day_desk

from controller.enlarger.enlargers import Enlarger
from controller.errors import KeeperGone, StoreTrouble
from controller.foot.acts import Load, Pick
from controller.recipe.at_enlarger import AtEnlarger
from controller.recipe.compile_recipe import compile_any
from controller.recipe.files import read_recipe
from controller.recipe.recipe import Recipe
from controller.store.records import StepRecord
from controller.words import say
from webui.forms.recipe import recipe_form_of
from webui.forms.usual_strips import USUAL

RECIPE, STRIP = "/shelf/write/recipe", "/shelf/write/strip"


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


# ---- what contradicts itself


def test_height_and_magnification_that_contradict_each_other_are_refused(phone: Phone, desk: StandInDesk) -> None:
    """Nothing is kept, all that was typed stands there, and the sentence beside the magnification says what it is."""
    attic = Enlarger.model_validate(
        {"name": "attic", "light_source": "diffuser", "focal_mm": 150, "column_offset_mm": 55}
    )
    desk.at_enlarger().enlargers().keep(attic)
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    typed = dict(page.fields) | {"lens-focal": "150", "head-height": "620", "magnification": "4", "do": "keep"}
    before = desk.recipes().fetch(desk.crane.id).version
    answer = phone.send(RECIPE, list(typed.items()))
    refused = Page(answer.text)
    assert "magnification" in refused.told()
    assert "a magnification of 2.00 on this column, not 4" in refused.words
    assert ("magnification", "4") in refused.fields
    assert desk.recipes().fetch(desk.crane.id).version == before
    phone.send(RECIPE, list((typed | {"magnification": "2.01"}).items()))
    assert desk.recipes().fetch(desk.crane.id).version == before + 1


# ---- what has moved since


def test_a_new_box_is_told_on_the_review_and_taken_there(phone: Phone, desk: StandInDesk) -> None:
    """What it makes of every recipe on this paper, each base before and after; one tap carries it over and loads."""
    attic = AtEnlarger(paper_title="paper one", box="A")
    record = desk.work(desk.crane, "s1")
    desk.records["s1"] = record.model_copy(update={"plan": record.plan.standing(attic)})
    where = f"/shelf/{desk.crane.id}"
    desk.show(bench=attic, can=("load", "at the enlarger"))
    assert "is new" not in phone.look(where).words
    desk.show(bench=attic.model_copy(update={"box": "B"}))
    page = phone.look(where)
    assert "Box B is new, and its speed was not read. Recipes on this paper: soft ±0, hard ±0" in page.words
    key = dict(page.fields)["offer"]
    moved = f"/carry/{desk.crane.id}/moved"
    assert moved in page.actions
    sent = [pair for pair in page.fields if pair[0] in ("token", "number", "run")]
    assert phone.send(moved, [*sent, ("offer", "another")]).status_code == 409
    assert phone.send(moved, [*sent, ("offer", key)]).status_code == 303
    assert desk.recipes().fetch(desk.crane.id).version == 2
    loaded = desk.acts[-1][0]
    assert isinstance(loaded, Load)
    assert desk.recipes().fetch(loaded.source).kind == "strip"
    assert "is new" not in phone.look(where).words


# ---- the list


def test_the_shelf_lists_what_is_kept_and_how_to_use_it(phone: Phone, desk: StandInDesk) -> None:
    """Each recipe or strip stands on its list with its small print, a way to it, and a button to load it."""
    for kind, these in (("recipe", (desk.crane,)), ("strip", (desk.strip, desk.proof))):
        page = phone.look(f"/shelf?kind={kind}")
        for kept in these:
            assert kept.title in page.words
            assert f"/shelf/{kept.id}" in page.links
        assert page.actions.count("/act/load") == len(these)
        assert "f/8" in page.words
        assert page.links.index(f"/shelf/new/{kind}") < page.links.index(f"/shelf/{these[0].id}")


def test_loading_says_the_snapshot_it_was_decided_on(phone: Phone, desk: StandInDesk) -> None:
    """The load button of the review carries recipe, version and snapshot number, and the desk gets them."""
    page = phone.look(f"/shelf/{desk.crane.id}")
    number = dict(page.fields)["number"]
    answer = phone.send(
        "/act/load", [pair for pair in page.fields if pair[0] in ("token", "number", "source", "version")]
    )
    assert answer.status_code == 303
    assert desk.acts == [(Load(source=desk.crane.id, version=1), int(number))]
    assert "next" in phone.look("/shelf").words


def test_putting_away_takes_it_off_the_list_alone(phone: Phone, desk: StandInDesk) -> None:
    """A thing put away leaves its list for that of what is put away, and can still be looked at by its address."""
    page = phone.look(f"/shelf/{desk.proof.id}")
    assert phone.send(f"/shelf/{desk.proof.id}/away", page.typed()).status_code == 303
    strips, away = phone.look("/shelf?kind=strip"), phone.look("/shelf?kind=strip&away=1")
    assert desk.proof.title not in strips.words
    assert desk.strip.title in strips.words
    assert desk.proof.title in away.words
    assert desk.strip.title not in away.words
    assert say("page.is-away") in phone.look(f"/shelf/{desk.proof.id}").words


@pytest.mark.parametrize("where", ["where it went", "its own page", "what is put away"])
def test_what_was_put_away_is_taken_out_again(phone: Phone, desk: StandInDesk, where: str) -> None:
    """Put away is undone by one button: right after it, on the thing's own page, or on the list of what is away."""
    page = phone.look(f"/shelf/{desk.crane.id}")
    went = phone.send(f"/shelf/{desk.crane.id}/away", page.typed()).location
    addresses = {"where it went": went, "its own page": f"/shelf/{desk.crane.id}"}
    page = phone.look(addresses.get(where, "/shelf?away=1"))
    assert f"/shelf/{desk.crane.id}/out" in page.actions
    answer = phone.send(f"/shelf/{desk.crane.id}/out", [pair for pair in page.fields if pair[0] == "token"])
    after = phone.look(answer.location)
    assert say("shelf.said-out") in after.words
    assert f"/shelf/{desk.crane.id}/out" not in after.actions
    assert f"/shelf/{desk.crane.id}" in phone.look("/shelf").links


@pytest.mark.parametrize(
    "address", ["/shelf/nothing", "/shelf/nothing/edit", "/shelf/nothing/versions", "/pick/nothing"]
)
def test_what_is_not_there_is_said(phone: Phone, address: str) -> None:
    """An address of nothing kept is refused with a sentence, not with a broken page."""
    page = phone.look(address, 404)
    assert len(page.words.strip()) > 20


# ---- looking


@pytest.mark.parametrize("kind", ["crane", "strip", "proof"])
def test_the_review_says_what_the_compiler_says(phone: Phone, desk: StandInDesk, kind: str) -> None:
    """Every step of the plan stands in the review with its seconds, in the plan's order."""
    kept = getattr(desk, kind)
    page = phone.look(f"/shelf/{kept.id}")
    plan = compile_any(read_recipe(kept.body, "x"), source="x", version=1)
    assert page.much == [f"{step.planned_ms / 1000:.1f} s" for step in plan.steps]


def test_the_review_of_the_crane_is_the_worked_example(phone: Phone, desk: StandInDesk) -> None:
    """A split-grade sheet of 10.1 and 8.0 s comes to 10.1, 10.1, 1.7, 6.3, 4.7 s, the filter changed once.

    Figures derived by hand: burn base·(2^e − 1), dodge base·(1 − 2^−e), rounded to 0.1 s.
    """
    words = phone.look(f"/shelf/{desk.crane.id}").words
    assert "5 exposures, 32.9\N{NO-BREAK SPACE}s" in words
    assert words.count("change to hard 5") == 1
    assert "soft 00 goes in first" in words
    for part in ("burn in: sky", "hard base, dodger C in · under the cab", "hard base, open", "burn in: wet stones"):
        assert part in words
    assert "running dodge" in words


def test_no_line_ends_between_a_titles_figure_and_its_unit(phone: Phone, desk: StandInDesk) -> None:
    """In the list and over its own page a title's seconds stay with their unit; what is typed of it is as it was."""
    kept = desk.recipes().fetch(desk.crane.id)
    tree = json.loads(kept.body) | {"title": "harbour crane, 7.6 s, filter 2"}
    made = desk.recipes().save(json.dumps(tree))
    whole = "harbour crane, 7.6\N{NO-BREAK SPACE}s, filter 2"
    assert f"<b>{whole}</b>" in phone.look("/shelf").text
    assert f"<h1>{whole}</h1>" in phone.look(f"/shelf/{made.id}").text
    assert dict(phone.look(f"/shelf/{made.id}/edit").fields)["title"] == tree["title"]


def test_looking_changes_nothing(phone: Phone, desk: StandInDesk) -> None:
    """No page that is only looked at keeps, loads or puts away anything."""
    desk.work(desk.strip, "sheet")
    before = [kept.id for kind in ("recipe", "strip") for kept in desk.recipes().kept(kind)]
    for address in (
        "/shelf",
        "/shelf/new/recipe",
        "/shelf/new/strip",
        f"/shelf/{desk.crane.id}",
        f"/shelf/{desk.crane.id}/edit",
        f"/shelf/{desk.crane.id}/edit?copy=1",
        f"/shelf/{desk.crane.id}/versions",
        "/pick/sheet?band=3",
        "/reckon?of=burn&base=10&stops=1",
    ):
        phone.look(address)
    assert desk.saves == 0
    assert desk.acts == []
    assert [kept.id for kind in ("recipe", "strip") for kept in desk.recipes().kept(kind)] == before


def test_no_page_repeats_an_id_or_styles_itself(phone: Phone, desk: StandInDesk) -> None:
    """Ids are unique on every page and none has a style of its own, which the security policy would drop."""
    desk.work(desk.strip, "sheet")
    for address in (
        "/shelf",
        f"/shelf/{desk.crane.id}",
        f"/shelf/{desk.crane.id}/edit",
        f"/shelf/{desk.strip.id}/edit",
        "/pick/sheet?band=3&between=1",
        "/reckon?of=size&negative_mm=120&from_mm=240&to_mm=330",
    ):
        page = phone.look(address)
        assert len(page.ids) == len(set(page.ids)), address
        text = phone.client.get(address).text
        assert "style=" not in text.replace(text[text.index("<style") : text.index("</style>")], "")


# ---- writing


def test_a_form_shows_exactly_what_is_kept(phone: Phone, desk: StandInDesk) -> None:
    """The fields on the page are the form's fields with the kept values, none more and none less."""
    recipe = read_recipe(desk.crane.body, "x")
    assert isinstance(recipe, Recipe)
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    shown = {name for name, _ in unpaired(page.fields, "token", "number", "run", "once", "written", "source", "")}
    optional = {f"local-{line}-edges" for line in range(3)} | {"flash-beforehand", "keep-order"}
    assert shown | optional == set(recipe_form_of(recipe).names()) | {f"light-{n}-filter-own" for n in range(2)}


@pytest.mark.parametrize(("which", "address"), [("crane", RECIPE), ("strip", STRIP), ("proof", STRIP)])
def test_keeping_untouched_says_the_same(phone: Phone, desk: StandInDesk, which: str, address: str) -> None:
    """A kept thing, opened and kept again untouched, gives the same sheet."""
    kept = getattr(desk, which)
    page = phone.look(f"/shelf/{kept.id}/edit")
    assert phone.send(address, page.typed(), do="keep").status_code == 303
    newest = desk.recipes().fetch(kept.id)
    assert newest.version == 2
    before, after = (compile_any(read_recipe(k.body, "x"), source="x", version=1) for k in (kept, newest))
    assert before == after


def test_keeping_what_is_loaded_says_that_it_is_next(phone: Phone, desk: StandInDesk) -> None:
    """A version that is already what the next sheet gets says so, and offers no second loading."""
    plan = compile_any(read_recipe(desk.crane.body, "x"), source=desk.crane.id, version=1)
    desk.show(plan=plan, place="ready")
    page = phone.look(f"/shelf/{desk.crane.id}?version=1&said=kept")
    assert "loaded for the next sheet" in page.words
    assert "/act/load" not in page.actions


def test_keep_as_another_one_leaves_the_first(phone: Phone, desk: StandInDesk) -> None:
    """Kept as another one, a recipe gets an id of its own, and the one it was opened from has no new version."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    assert phone.send(RECIPE, page.typed(title="Crane at dusk"), do="keep new").status_code == 303
    assert desk.recipes().fetch(desk.crane.id).version == 1
    assert "Crane at dusk" in [kept.title for kept in desk.recipes().kept("recipe")]


def test_a_copy_is_new_until_it_is_kept(phone: Phone, desk: StandInDesk) -> None:
    """A copy shows the same lines under another title and belongs to nothing yet."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit?copy=1")
    assert dict(page.fields)["source"] == ""
    assert dict(page.fields)["title"] == "Harbour crane, 8x10, copy"
    assert dict(page.fields)["light-0-seconds"] == "10.1"


def test_versions_can_be_looked_at_and_edited(phone: Phone, desk: StandInDesk) -> None:
    """Each version has its own review; an old one says that it is not the newest."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    phone.send(RECIPE, page.typed(light_0_seconds="12.5"), do="keep")
    assert len([link for link in phone.look(f"/shelf/{desk.crane.id}/versions").links if "version=" in link]) == 2
    assert "12.5 s" in phone.look(f"/shelf/{desk.crane.id}").words
    old = phone.look(f"/shelf/{desk.crane.id}?version=1").words
    assert "12.5 s" not in old
    assert "The newest is version 2" in old
    assert dict(phone.look(f"/shelf/{desk.crane.id}/edit?version=1").fields)["light-0-seconds"] == "10.1"


@pytest.mark.parametrize("do", ["add light", "add local", "drop local 0", "up local 2", "look", "", "nonsense"])
def test_buttons_of_lines_keep_nothing_and_lose_nothing(phone: Phone, desk: StandInDesk, do: str) -> None:
    """Adding, dropping, moving and looking change the form alone; what was typed elsewhere stays."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    after = phone.press(RECIPE, page, do, title="Half typ", light_1_seconds="?!", notes="first\nsecond")
    assert desk.saves == 0
    fields = dict(after.fields)
    assert (fields["title"], fields["light-1-seconds"], fields["notes"]) == ("Half typ", "?!", "first\nsecond")
    assert fields["source"] == desk.crane.id


def test_a_line_more_and_a_line_less(phone: Phone, desk: StandInDesk) -> None:
    """A new area has the next letter; a dropped one is gone and the others move up; order can be changed."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    page = phone.press(RECIPE, page, "add local")
    assert dict(page.fields)["local-3-area"] == "D"
    page = phone.press(RECIPE, page, "up local 3")
    assert [dict(page.fields)[f"local-{n}-area"] for n in range(4)] == ["A", "C", "D", "B"]
    page = phone.press(RECIPE, page, "drop local 0")
    assert [dict(page.fields)[f"local-{n}-area"] for n in range(3)] == ["C", "D", "B"]
    assert "local-3-area" not in dict(page.fields)


def test_turning_the_card_turns_the_picture(phone: Phone, desk: StandInDesk) -> None:
    """The button "from the other end" makes covering uncovering, and the pulses come in opposite order."""
    page = phone.look(f"/shelf/{desk.strip.id}/edit")
    turned = phone.press(STRIP, page, "turn")
    assert (dict(page.fields)["card"], dict(turned.fields)["card"]) == ("cover", "uncover")
    pulses = [[words for words in shown.drawn if words.count(".") == 1][7:14] for shown in (page, turned)]
    assert pulses[0] == pulses[1][::-1] == ["4.0", "1.0", "1.3", "1.7", "2.1", "2.6", "3.3"]


REFUSED = [
    ("crane", {"title": ""}, "title"),
    ("crane", {"light_1_seconds": "0"}, "light-1-seconds"),
    ("crane", {"light_0_seconds": "ten"}, "light-0-seconds"),
    ("crane", {"light_0_seconds": "-3"}, "light-0-seconds"),
    ("crane", {"light_0_seconds": "nan"}, "light-0-seconds"),
    ("crane", {"light_0_seconds": "1e9"}, "light-0-seconds"),
    ("crane", {"light_1_filter": "soft"}, "light-1-filter"),
    ("crane", {"light_1_filter": "own", "light_1_filter_own": ""}, "light-1-filter"),
    ("crane", {"local_0_dose": ""}, "local-0-dose"),
    ("crane", {"local_0_dose": "own", "local_0_dose_own": "lots"}, "local-0-dose"),
    ("crane", {"local_0_dose": "own", "local_0_dose_own": "1/0"}, "local-0-dose"),
    ("crane", {"local_2_dose": "seconds", "local_2_seconds": ""}, "local-2-dose"),
    ("crane", {"local_2_dose": "seconds", "local_2_seconds": "x"}, "local-2-seconds"),
    ("crane", {"local_1_filter": "2"}, "local-1-filter"),
    ("crane", {"local_0_act": "edge burn"}, "local-0-edges"),
    ("crane", {"local_1_dose": "own", "local_1_dose_own": "5"}, "local-1-dose"),
    ("crane", {"local_0_area": ""}, "local-0-area"),
    ("crane", {"lens_aperture": "f8"}, "lens-aperture"),
    ("crane", {"image_long": "100"}, "image-long"),
    ("crane", {"image_short": ""}, "image-short"),
    ("crane", {"dry_down": "80"}, "dry-down"),
    ("crane", {"flash_filter": "2"}, "flash-seconds"),
    ("crane", {"developer_name": "any", "developer_celsius": "100"}, "developer-celsius"),
    ("crane", {"developer_celsius": "20"}, "developer-name"),
    ("strip", {"bands": "1"}, "bands"),
    ("strip", {"bands": "7.5"}, "bands"),
    ("strip", {"centre": ""}, "centre"),
    ("strip", {"fineness": "own", "fineness_own": "a bit"}, "fineness-own"),
    ("strip", {"kind": "seconds", "step": ""}, "step"),
    ("strip", {"kind": "burn", "base": "8.0", "filter": "soft"}, "base"),
    ("strip", {"pace": "rhythm", "gap": "0.5"}, "gap"),
    ("strip", {"card": "window", "pace": "long"}, "pace"),
    ("strip", {"under_0_seconds": "900"}, "under-0-seconds"),
    ("strip", {"centre": "0.3"}, "fineness"),
]


@pytest.mark.parametrize(("which", "typed", "at"), REFUSED)
def test_a_refusal_stands_beside_its_field(
    phone: Phone, desk: StandInDesk, which: str, typed: dict[str, str], at: str
) -> None:
    """What cannot be kept is refused with one sentence beside the field it is about; nothing is kept or lost."""
    kept = getattr(desk, which)
    page = phone.look(f"/shelf/{kept.id}/edit")
    address = RECIPE if which == "crane" else STRIP
    after = phone.press(address, page, "keep", 422, **typed)
    told = after.told()
    assert list(told) == [at], told
    assert told[at].endswith(".")
    assert desk.saves == 0
    assert desk.recipes().fetch(kept.id).version == 1
    sent = list(unpaired(page.typed(**typed), "token", "number", "once"))
    assert list(unpaired(after.fields, "token", "number", "once")) == sent


@pytest.mark.parametrize(
    ("which", "typed", "said"),
    [
        ("crane", {"light_1_seconds": "-3"}, "This recipe: “Seconds” in the second base exposure is -3,"),
        (
            "crane",
            {"local_2_dose": "seconds", "local_2_seconds": "x"},
            "Seconds, the third dodge or burn (area B): type a number such as 12.5 s. “x” is none.",
        ),
        ("crane", {"local_0_area": ""}, "This recipe: “Letter” in the first dodge or burn is missing"),
        (
            "strip",
            {"under_0_seconds": "900"},
            "This strip: “Seconds” in the first exposure under the whole strip is 900,",
        ),
    ],
)
def test_a_refusal_calls_a_line_what_the_page_shows(
    phone: Phone, desk: StandInDesk, which: str, typed: dict[str, str], said: str
) -> None:
    """The sentence beside a field names its line in words and by its area's letter, not as the file would."""
    page = phone.look(f"/shelf/{getattr(desk, which).id}/edit")
    after = phone.press(RECIPE if which == "crane" else STRIP, page, "keep", 422, **typed)
    (told,) = after.told().values()
    assert said in told
    assert "local" not in told


def test_a_store_that_is_full_loses_nothing_typed(phone: Phone, desk: StandInDesk) -> None:
    """Where it cannot be written the page says so, and shows what was typed."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    desk.trouble = StoreTrouble("The shelf cannot be written. Free some space, then keep it again.")
    after = phone.press(RECIPE, page, "keep", 503, title="Crane at dusk")
    assert after.told() == {"": str(desk.trouble)}
    assert dict(after.fields)["title"] == "Crane at dusk"


def test_a_desk_that_does_not_answer_loses_nothing_typed(phone: Phone, desk: StandInDesk) -> None:
    """Where the keeper is away while it is kept, the page says so, and shows what was typed."""
    page = phone.look(f"/shelf/{desk.strip.id}/edit")
    desk.trouble = KeeperGone("The keeper does not answer. Wait a moment, then keep it again.")
    after = phone.press(STRIP, page, "keep", 503, title="Half typed")
    assert after.told() == {"": str(desk.trouble)}
    assert dict(after.fields)["title"] == "Half typed"


def test_an_untouched_new_form_is_not_scolded(phone: Phone) -> None:
    """A new form has no sentence beside any field before something was asked of it."""
    for kind in ("recipe", "strip"):
        assert phone.look(f"/shelf/new/{kind}").told() == {}


def test_an_empty_row_is_none(phone: Phone, desk: StandInDesk) -> None:
    """The hard filter that stands there by itself asks for nothing: a recipe of one base is kept by its title alone."""
    page = phone.look("/shelf/new/recipe")
    page = phone.press(RECIPE, page, "add local")
    answer = phone.send(RECIPE, page.typed(title="Boat slip", light_0_seconds="12,5", local_0_area=""), do="keep")
    assert answer.status_code == 303
    tree = json.loads(desk.recipes().kept("recipe")[0].body)
    assert (tree["light"], tree["local"]) == ([{"filter": "soft", "seconds": 12.5}], [])


def test_a_new_area_is_no_burn_until_its_dose_is_chosen(phone: Phone, desk: StandInDesk) -> None:
    """A row that has only the letter it came with is refused at its dose, by the area's name; nothing is kept."""
    page = phone.press(RECIPE, phone.look(f"/shelf/{desk.crane.id}/edit"), "add local")
    assert (dict(page.fields)["local-3-area"], dict(page.fields)["local-3-dose"]) == ("D", "")
    after = phone.press(RECIPE, page, "keep", 422)
    assert list(after.told()) == ["local-3-dose"]
    assert "D" in after.told()["local-3-dose"]
    assert desk.saves == 0


def test_a_refusal_counts_the_empty_rows_of_the_page(phone: Phone, desk: StandInDesk) -> None:
    """Where a row above is empty the sentence still stands beside the row that it is about, and calls it as shown."""
    page = phone.look("/shelf/new/recipe")
    after = phone.press(RECIPE, page, "keep", 422, title="Boat slip", light_1_seconds="-3")
    assert list(after.told()) == ["light-1-seconds"]
    assert "the second base exposure" in after.told()["light-1-seconds"]
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    after = phone.press(RECIPE, page, "keep", 422, local_0_area="", local_0_what="", local_2_area="")
    assert list(after.told()) == ["local-2-area"]
    assert "the third dodge or burn" in after.told()["local-2-area"]


def test_a_recipe_without_any_base_is_asked_for_its_first(phone: Phone) -> None:
    """Where every row of the bases is empty, the first is asked for its seconds."""
    after = phone.press(RECIPE, phone.look("/shelf/new/recipe"), "keep", 422, title="Boat slip")
    assert list(after.told()) == ["light-0-seconds"]


@pytest.mark.parametrize("which", ["first", "finer", "over", "burn"])
def test_a_usual_strip_is_one_tap_and_keeps_as_it_is(phone: Phone, desk: StandInDesk, which: str) -> None:
    """Each usual strip is filled in to its last field from what was used last: it can be kept with nothing typed."""
    desk.work(desk.crane, "sheet")
    page = phone.press(STRIP, phone.look("/shelf/new/strip"), f"usual {which}")
    assert phone.send(STRIP, page.typed(), do="keep").status_code == 303
    strip = json.loads(desk.recipes().kept("strip")[0].body)
    crane = json.loads(desk.crane.body)
    for key in ("negative", "paper", "lens", "head_height_mm", "magnification", "filters"):
        assert strip[key] == crane[key]
    assert strip["title"].endswith(": harbour crane")
    assert strip["template"] == USUAL[which]


def test_a_usual_strip_leaves_a_title_of_ones_own(phone: Phone) -> None:
    """A title that was typed stays, one that came with another usual strip goes with it."""
    page = phone.look("/shelf/new/strip")
    finer = phone.press(STRIP, page, "usual finer")
    assert dict(finer.fields)["title"].startswith("Finer strip")
    own = phone.press(STRIP, finer, "usual burn", title="Roofs, the north end")
    assert dict(own.fields)["title"] == "Roofs, the north end"


def test_the_next_strip_begins_from_the_pick(phone: Phone, desk: StandInDesk) -> None:
    """A finer strip lies around the band that was picked last, through its filter, over the base under it."""
    desk.work(desk.strip, "sheet")
    phone.send("/act/pick", phone.look("/pick/sheet?band=5&between=0").typed())
    fields = dict(phone.press(STRIP, phone.look("/shelf/new/strip"), "usual finer").fields)
    # Band 5 of thirds around 8.0 s is 10.1 s (derived: 8 · 2^(1/3)); its soft base lay under it.
    assert (fields["filter"], fields["centre"], fields["fineness"]) == ("hard", "10.1", "1/6")
    assert (fields["under-0-filter"], fields["under-0-seconds"]) == ("soft", "10.1")


def test_a_new_recipe_proposes_soft_first(phone: Phone, desk: StandInDesk) -> None:
    """A new recipe has a soft base, then a hard one; kept, it is what was typed."""
    page = phone.look("/shelf/new/recipe")
    answer = phone.send(RECIPE, page.typed(title="Boat slip", light_0_seconds="12,5", light_1_seconds="6"), do="keep")
    assert answer.status_code == 303
    kept = desk.recipes().kept("recipe")[0]
    assert kept.title == "Boat slip"
    tree = json.loads(kept.body)
    assert tree["light"] == [{"filter": "soft", "seconds": 12.5}, {"filter": "hard", "seconds": 6}]
    assert tree["local"] == []
    assert set(tree) == {"format", "title", "light", "local"}


def test_a_form_with_strange_marks_is_words(phone: Phone) -> None:
    """Markup that was typed is shown as it was typed and never becomes a part of the page."""
    page = phone.look("/shelf/new/recipe")
    hostile = '"><script>alert(1)</script>'
    after = phone.send(RECIPE, page.typed(title=hostile, light_0_seconds="10", light_1_seconds="5"), do="look")
    assert "<script>alert" not in after.text
    assert dict(Page(after.text).fields)["title"] == hostile


# ---- seen while it is typed


def test_the_live_review_keeps_nothing(phone: Phone, desk: StandInDesk) -> None:
    """A review of what is typed so far gives the pictures and the seconds beside each line, and keeps nothing."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    answer = phone.send("/review", page.typed(light_0_seconds="20"))
    assert answer.status_code == 200
    assert "<html" not in answer.text
    assert "20.0 s" in Page(answer.text).words
    assert 'data-worth="local-0"' in answer.text
    assert desk.saves == 0


def test_the_live_review_says_where_it_hurts(phone: Phone, desk: StandInDesk) -> None:
    """A review of what cannot be kept is 422 with the sentence and the field it belongs to."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    answer = phone.send("/review", page.typed(light_0_seconds="0"))
    assert answer.status_code == 422
    assert list(Page(answer.text).told()) == ["light-0-seconds"]


@pytest.mark.parametrize("kind", ["", "spoon"])
def test_a_review_of_nothing_known_is_not_there(phone: Phone, kind: str) -> None:
    """A form of no known kind is refused, not guessed at."""
    token = dict(phone.look("/shelf/new/recipe").fields)["token"]
    assert phone.send("/review", [("token", token), ("written", kind)]).status_code == 404


def test_stops_are_offered_in_words_with_their_seconds(phone: Phone, desk: StandInDesk) -> None:
    """The list of stops says each amount in words, as a fraction and in seconds, more for a burn, less for a dodge."""
    words = phone.look(f"/shelf/{desk.crane.id}/edit").words
    assert "a third more, +1/3 · 2.6 s" in words
    assert "one stop more, +1 · 10.1 s" in words
    assert "a third less, −1/3 · 1.7 s" in words


# ---- the paper guard


def test_editing_is_for_the_lit_room(phone: Phone, desk: StandInDesk) -> None:
    """Without the day face no page of the shelf is shown, and the refusal is a sentence in the dark."""
    desk.show(day_until_ns=None, day_refused="Sheet 5 is open. Hold the foot switch to close it.")
    for address in ("/shelf", "/shelf/new/strip", f"/shelf/{desk.crane.id}", f"/shelf/{desk.crane.id}/edit", "/reckon"):
        assert "Sheet 5 is open" in phone.look(address, 409).words


def test_keeping_needs_no_day_face(phone: Phone, desk: StandInDesk) -> None:
    """What was typed by day can be kept after the room went dark; the page that comes is for the dark."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    desk.show(day_until_ns=None)
    answer = phone.send(RECIPE, page.typed(title="Crane at dusk"), do="keep")
    assert answer.status_code == 303
    assert desk.recipes().fetch(desk.crane.id).title == "Crane at dusk"
    shown = phone.client.get(answer.location)
    assert shown.status_code == 200
    assert "data-day" not in shown.text
    assert "Crane at dusk" in shown.text


def test_a_refusal_in_the_dark_stays_dark(phone: Phone, desk: StandInDesk) -> None:
    """A form that is refused after the room went dark comes back dark, waiting, and with everything typed."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    desk.show(day_until_ns=None)
    answer = phone.send(RECIPE, page.typed(title="Crane", light_0_seconds="0"), do="keep")
    assert answer.status_code == 422
    assert "data-day=" not in answer.text
    assert "data-needs-day" in answer.text
    assert dict(Page(answer.text).fields)["light-0-seconds"] == "0"


@pytest.mark.parametrize("address", [RECIPE, STRIP, "/review", "/shelf/x/away"])
def test_nothing_is_written_without_the_token(phone: Phone, desk: StandInDesk, address: str) -> None:
    """A form without this phone's token is refused, and keeps nothing."""
    page = phone.look(f"/shelf/{desk.crane.id}/edit")
    answer = phone.send(address, unpaired(page.typed(), "token"), do="keep")
    assert answer.status_code == 403
    assert desk.saves == 0


def test_an_unpaired_phone_sees_nothing_of_the_shelf(phone: Phone, desk: StandInDesk) -> None:
    """Without the pairing cookie no page of the shelf says anything of what is kept."""
    stranger = phone.client.application.test_client()
    for address in ("/shelf", f"/shelf/{desk.crane.id}", "/pick/sheet", "/reckon"):
        answer = stranger.get(address)
        assert answer.status_code == 403
        assert "crane" not in answer.text
    assert stranger.post(RECIPE, data={"do": "keep"}, headers={"Origin": ORIGIN}).status_code == 403


# ---- picking


def test_a_strip_offers_its_bands_and_the_lines_between(phone: Phone, desk: StandInDesk) -> None:
    """A strip's sheet shows seven bands and six lines to tap, what to look at, and no button before a tap."""
    desk.work(desk.strip, "sheet")
    page = phone.look("/pick/sheet")
    assert len([link for link in page.links if "between=0" in link]) == 7
    assert len([link for link in page.links if "between=1" in link]) == 6
    assert "ignore the highlights" in page.words
    assert "/act/pick" not in page.actions


def test_a_tapped_band_becomes_the_base_of_a_recipe(phone: Phone, desk: StandInDesk) -> None:
    """Band 4 of a hard strip of thirds around 8.0 s is a hard base of 8.0 s, taken into a new recipe."""
    desk.work(desk.strip, "sheet")
    page = phone.look("/pick/sheet?band=4&between=0")
    assert "hard base 8.0 s" in page.words
    answer = phone.send("/act/pick", page.typed())
    assert answer.status_code == 303
    act, _ = desk.acts[-1]
    title = "harbour crane, 8.0 s, hard (sheet 3)"
    assert act == Pick(sheet="sheet", band=4, title=title)
    picked = desk.records["sheet"].picks[-1]
    recipe = read_recipe(desk.recipes().fetch(picked.recipe).body, "x")
    assert isinstance(recipe, Recipe)
    assert recipe.title == title
    assert [(light.filter, float(light.seconds)) for light in recipe.light] == [("soft", 10.1), ("hard", 8.0)]
    after = phone.look(answer.location)
    assert f"/shelf/{picked.recipe}?version=1" in after.links
    assert say("shelf.pick-take") not in after.words  # a second tap would make a second recipe


def test_a_pick_s_recipe_is_called_as_the_printer_says(phone: Phone, desk: StandInDesk) -> None:
    """The proposed title tells what was picked and of which sheet; another may be typed, none is the proposed."""
    desk.work(desk.strip, "sheet")
    page = phone.look("/pick/sheet?band=4&between=0")
    proposed = dict(page.fields)["title"]
    for typed, title in (("crane in fog", "crane in fog"), ("  ", proposed)):
        phone.send("/act/pick", phone.look("/pick/sheet?band=4&between=0").typed(title=typed))
        assert desk.recipes().fetch(desk.records["sheet"].picks[-1].recipe).title == title
    refused = phone.send("/act/pick", phone.look("/pick/sheet?band=4&between=0").typed(title="turned \u202e round"))
    assert (refused.status_code, len(desk.records["sheet"].picks)) == (422, 2)
    assert "“title”" in refused.text


def test_a_strip_s_record_leads_to_its_pick(phone: Phone, desk: StandInDesk) -> None:
    """Who looks at a strip's sheet finds the way to pick a band of it."""
    desk.work(desk.strip, "sheet")
    assert "/pick/sheet" in phone.look("/sheets/sheet").links


def test_the_line_between_two_bands_is_their_geometric_mean(phone: Phone, desk: StandInDesk) -> None:
    """Between 8.0 and 10.1 s lies 9.0 s (derived: √(8.0 · 10.1) = 8.99), and it goes into the recipe chosen."""
    desk.work(desk.strip, "sheet")
    page = phone.look("/pick/sheet?band=4&between=1")
    assert "hard base 9.0 s" in page.words
    assert phone.send("/act/pick", page.typed(recipe=desk.crane.id)).status_code == 303
    title = "harbour crane, 9.0 s, hard (sheet 3)"
    assert desk.acts[-1][0] == Pick(sheet="sheet", band=4, between=True, recipe=desk.crane.id, title=title)
    recipe = read_recipe(desk.recipes().fetch(desk.crane.id).body, "x")
    assert isinstance(recipe, Recipe)
    assert recipe.title == desk.crane.title
    assert [float(light.seconds) for light in recipe.light] == [10.1, 9.0]
    assert len(recipe.local) == 3


def test_the_page_says_that_a_pick_is_for_the_next_sheet(phone: Phone, desk: StandInDesk) -> None:
    """After a pick into the recipe that is loaded the page says that the next sheet gets it; after another, not."""
    desk.work(desk.strip, "sheet")
    answer = phone.send("/act/pick", phone.look("/pick/sheet?band=4").typed(recipe=desk.crane.id))
    assert "what the next sheet gets" not in phone.look(answer.location).words
    version = desk.records["sheet"].picks[-1].recipe_version
    kept = phone.look(f"/shelf/{desk.crane.id}?version={version}")
    phone.send("/act/load", [pair for pair in kept.fields if pair[0] in ("token", "number", "source", "version")])
    assert "Done, and it is loaded for the next sheet." in phone.look(answer.location).words


def test_a_pick_without_aperture_and_height_is_noted(phone: Phone, desk: StandInDesk) -> None:
    """A pick from a strip that does not say aperture and height can be noted on the sheet alone; the page says why."""
    desk.work(desk.proof, "sheet")
    page = phone.look("/pick/sheet?band=4")
    assert "neither aperture nor head height" in page.words
    assert {"form": "pick", "formaction": "/act/pick"} in page.buttons
    answer = phone.send("/act/pick", page.typed())
    assert answer.status_code == 303
    assert desk.records["sheet"].picks[-1].recipe == ""
    assert "Noted on the strip" in phone.look(answer.location).words


def test_what_a_strip_lacks_is_given_with_the_pick(phone: Phone, desk: StandInDesk) -> None:
    """Aperture and head height typed with the pick go into the new recipe and the strip; the sheet never asks again."""
    desk.work(desk.proof, "sheet")
    page = phone.look("/pick/sheet?band=4")
    assert "/pick/sheet/figures" in page.actions
    typed = page.typed(lens_aperture="5,6", head_height="412.5", title="Quay")
    answer = phone.send("/pick/sheet/figures", typed)
    assert answer.status_code == 303
    after = phone.look(answer.location)
    picked = desk.records["sheet"].picks[-1]
    assert f"/shelf/{picked.recipe}?version=1" in after.links
    assert desk.recipes().fetch(picked.recipe).title == "Quay"
    recipe, strip = (desk.recipes().written(desk.recipes().fetch(each)) for each in (picked.recipe, desk.proof.id))
    for made in (recipe, strip):
        assert made.lens is not None
        assert (str(made.lens.aperture), str(made.head_height_mm)) == ("5.6", "412.5")
    assert desk.recipes().fetch(desk.proof.id).version == 2
    assert "/act/pick" in phone.look("/pick/sheet?band=5").actions


def test_a_figure_that_lacks_or_is_none_is_asked_for_at_its_field(phone: Phone, desk: StandInDesk) -> None:
    """A field that is empty or holds no such number is refused beside it; what was typed stays, nothing is kept."""
    desk.work(desk.proof, "sheet")
    page = phone.look("/pick/sheet?band=4")
    for typed, wrong in (
        ({"lens_aperture": "5.6"}, "head-height"),
        ({"lens_aperture": "eight", "head_height": "412"}, "lens-aperture"),
        ({"lens_aperture": "8", "head_height": "20000"}, "head-height"),
    ):
        answer = phone.send("/pick/sheet/figures", page.typed(recipe=desk.crane.id, title="Quay", **typed))
        assert answer.status_code == 422
        again = Page(answer.text)
        assert list(again.told()) == [wrong]
        there = dict(again.fields)
        assert {name.replace("_", "-"): text for name, text in typed.items()}.items() <= there.items()
        assert (there["recipe"], there["band"], there["title"]) == (desk.crane.id, "4", "Quay")
    assert desk.records["sheet"].picks == ()
    assert desk.recipes().fetch(desk.proof.id).version == 1


def test_what_the_strip_was_given_since_stands_in_the_fields(phone: Phone, desk: StandInDesk) -> None:
    """Where the strip's last version says what its sheet did not, it need not be typed; that version stays."""
    desk.work(desk.proof, "sheet")
    tree = json.loads(desk.proof.body) | {"lens": {"aperture": 8}, "head_height_mm": 620}
    desk.recipes().save(json.dumps(tree), desk.proof.id)
    page = phone.look("/pick/sheet?band=4")
    assert {"lens-aperture": "8", "head-height": "620"}.items() <= dict(page.fields).items()
    assert phone.send("/pick/sheet/figures", page.typed()).status_code == 303
    assert desk.records["sheet"].picks[-1].recipe
    assert desk.recipes().fetch(desk.proof.id).version == 2


def test_a_burn_is_picked_without_figures_into_a_recipe_alone(phone: Phone, desk: StandInDesk) -> None:
    """A burn's stops need no aperture to go into a recipe; a new recipe made of them needs both, and says so."""
    burns = {"kind": "burn", "base": 10, "step": "1/3", "bands": 5}
    tree = json.loads(desk.proof.body) | {
        "filter": "soft",
        "times": burns,
        "under": [{"filter": "soft", "seconds": 10}],
    }
    desk.work(desk.recipes().save(json.dumps(tree)), "sheet")
    page = phone.look("/pick/sheet?band=3")
    answer = phone.send("/pick/sheet/figures", page.typed())
    assert answer.status_code == 422
    assert "neither aperture nor head height" in Page(answer.text).words
    assert phone.send("/pick/sheet/figures", page.typed(recipe=desk.crane.id)).status_code == 303
    assert desk.records["sheet"].picks[-1].recipe == desk.crane.id


@pytest.mark.parametrize("query", ["band=0", "band=8", "band=7&between=1", "band=x", "band=-1", ""])
def test_a_band_that_is_not_there_is_no_pick(phone: Phone, desk: StandInDesk, query: str) -> None:
    """An address of no band of this strip shows the strip with nothing picked."""
    desk.work(desk.strip, "sheet")
    assert "/act/pick" not in phone.look(f"/pick/sheet?{query}").actions


def test_a_recipe_s_sheet_has_no_bands(phone: Phone, desk: StandInDesk) -> None:
    """The sheet of a recipe is no strip, and the page says so."""
    desk.work(desk.crane, "print")
    assert "not a strip" in phone.look("/pick/print", 422).words


def test_a_strip_that_came_out_uneven_is_told(phone: Phone, desk: StandInDesk) -> None:
    """Where a band's light did not come as planned, the page warns before anything is picked."""
    record = desk.work(desk.strip, "sheet")
    assert "did not come as planned" not in phone.look("/pick/sheet").words
    third = record.steps[3]
    short = StepRecord(step=third.step, given_least_ms=400, given_most_ms=400)
    desk.records["sheet"] = record.model_copy(update={"steps": (*record.steps[:3], short, *record.steps[4:])})
    assert f"({third.step.name})" in phone.look("/pick/sheet").words


@pytest.mark.parametrize("which", ["crane", "strip"])
def test_a_support_needs_no_paper(phone: Phone, desk: StandInDesk, which: str) -> None:
    """RC or FB alone is kept, shown under the title and in the form again; nothing asks for a paper's name."""
    kept = getattr(desk, which)
    page = phone.look(f"/shelf/{kept.id}/edit")
    typed = {"paper_name": "", "paper_support": "FB"} | ({"paper_size": ""} if which == "crane" else {})
    answer = phone.send(RECIPE if which == "crane" else STRIP, page.typed(**typed), do="keep")
    assert answer.status_code == 303
    assert json.loads(desk.recipes().fetch(kept.id).body)["paper"] == {"support": "FB"}
    assert "4x5 · FB" in phone.look(f"/shelf/{kept.id}").words
    again = dict(phone.look(f"/shelf/{kept.id}/edit").fields)
    assert (again["paper-name"], again["paper-support"]) == ("", "FB")


# ---- reckoning


@pytest.mark.parametrize(
    ("query", "said"),
    [
        # public print-size worked example: 8x10 to 16x20 from 4x5, published 2.78
        ("of=size&from=2&to=4", "× 2.78"),
        # the same source: 8x10 to 11x14, published as between a half and three quarters of a stop
        ("of=size&from=2&to=2.8", "about +2/3 stop"),
        # the same by lengths, 120 mm of negative: derived
        ("of=size&negative_mm=120&from_mm=240&to_mm=480&time=10", "10.0 s becomes 27.8 s"),
        # marked stops: what a lens ring means (derived), not (8/5.6)² = 2.04
        ("of=aperture&from=8&to=5.6&time=12", "12.0 s becomes 6.0 s"),
        ("of=aperture&from=8&to=5.6", "about −1 stop"),
        # base·(2^e − 1) and base·(1 − 2^−e) on 10.0 s: derived table
        ("of=burn&base=10&stops=1/2", "4.1 s"),
        ("of=burn&base=10,0&stops=4/3", "15.2 s"),
        ("of=dodge&base=10&stops=1/3", "2.1 s"),
        # common practice: 8 % off 20 s is 18.4 s
        ("of=dry-down&percent=8&seconds=20", "18.4 s"),
        # geometric mean: derived
        ("of=between&one=9.5&two=12", "10.7 s"),
    ],
)
def test_the_reckoning_page_agrees_with_the_tables(phone: Phone, query: str, said: str) -> None:
    """Each reckoning gives the figure of its table or worked example, to what the page shows."""
    assert said in phone.look(f"/reckon?{query}").words


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("of=size&from=2", "“From”"),
        ("of=size&from=2&to=x", "“To”"),
        ("of=aperture&from=8&to=500", "“To f/”"),
        ("of=burn&base=ten&stops=1", "“Base”"),
        ("of=burn&base=10", "“Stops, such as 1/3”"),
        ("of=dry-down&percent=99&seconds=3", "“Less exposure by”"),
    ],
)
def test_the_reckoning_refuses_in_the_page_s_own_words(phone: Phone, query: str, field: str) -> None:
    """What cannot be reckoned is told in one sentence that names the page's field, never a flag; typed text stays."""
    page = phone.look(f"/reckon?{query}", 422)
    assert field in page.words
    assert "--" not in page.words


def test_an_unknown_reckoning_is_an_empty_page(phone: Phone) -> None:
    """A reckoning that does not exist answers nothing and breaks nothing."""
    assert "Another size" in phone.look("/reckon?of=moon&base=3").words


OPEN_AT_FIRST = {"/shelf/new/recipe": 7, "edit": 7, "/shelf/new/strip": 6}
"""Controls outside of folds, at most; every light's filter counts with the field for another one's name."""


@pytest.mark.parametrize("address", OPEN_AT_FIRST)
def test_a_form_opens_with_what_is_typed_most(phone: Phone, desk: StandInDesk, address: str) -> None:
    """Set-up and local work are folded, each with a line that says what is in it: few controls stand open at first."""
    text = phone.look(f"/shelf/{desk.crane.id}/edit" if address == "edit" else address).text
    form = text[text.index('id="write"') : text.index("<footer>")]
    shut = re.sub(r"<details class=\"(?:group|work)\b[^>]*(?<! open)>.*?</details>", "", form, flags=re.S)
    controls = re.findall(r"<(?:select|textarea|input(?! type=\"(?:hidden|radio|checkbox)\"))\b", shut)
    assert len(controls) <= OPEN_AT_FIRST[address]
    assert ('data-live="size">f/8' in form) == (address != "/shelf/new/recipe")
    assert ("A sky · burn +1 · soft" in form) == (address == "edit")
