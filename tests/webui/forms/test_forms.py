"""What is typed into a form comes back letter for letter, and makes the document that the controller reads."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.written_files import recipe_2_trees

from controller.errors import Unreadable
from controller.exposure.stops import parse_more_stops
from controller.recipe.files import read_recipe, read_tree
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip
from webui.forms.form import Move, Typed, input_name, moved, number, read_move
from webui.forms.hands import HandsLine, ToolLine
from webui.forms.recipe import RecipeForm, WorkLine, new_recipe_form, read_recipe_form, recipe_form_of
from webui.forms.setup import LightLine
from webui.forms.strip import StripForm, read_strip_form, strip_form_of

LINES = {"lights": "light", "work": "local", "under": "under", "later": "after", "tools": "tools", "hands": "hands"}


def sent(form: RecipeForm | StripForm) -> Typed:
    """Return what a browser would send of a form that shows these values."""
    typed = Typed()
    for field in (one.name for one in fields(form)):
        value = getattr(form, field)
        if field in LINES:
            for index, line in enumerate(value):
                for inner in (one.name for one in fields(line)):
                    put(typed, input_name(inner, f"{LINES[field]}-{index}-"), getattr(line, inner))
        else:
            put(typed, input_name(field), value)
    return typed


def put(typed: Typed, name: str, value: Any) -> None:
    for one in value if isinstance(value, tuple) else (value,):
        typed.add(name, one.replace("\n", "\r\n"))


def meaning(model: Recipe | Strip) -> Any:
    """Return a document with stops as exact numbers and without what says nothing."""

    def plain(key: str, value: Any) -> Any:
        if key == "stops" or (key == "step" and isinstance(value, str)):
            return Fraction(parse_more_stops(value))
        if isinstance(value, dict):
            return {inner: plain(inner, found) for inner, found in value.items() if found not in (None, {})}
        if isinstance(value, list | tuple):
            return [plain("", found) for found in value]
        return value

    return plain("", model.model_dump())


words = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), min_size=1, max_size=30)
filters = st.sampled_from(["soft", "hard", "2", "00", "3½", "green"])
times = st.integers(1, 6000).map(lambda tenths: tenths / 10)
stops = st.sampled_from(["1/3", "1", "4/3", "0.25", "1 1/6", 2])


def some(**parts: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=parts)


GROUPS = {
    "negative": st.fixed_dictionaries({"name": words}, optional={"format": words}),
    "paper": some(name=words, support=st.sampled_from(["RC", "FB"]), size=words).filter(bool),
    "lens": st.fixed_dictionaries({"focal_mm": st.integers(20, 300)}, optional={"aperture": st.just(5.6)}),
    "magnification": st.just(2.75),
    "head_height_mm": st.integers(1, 2000),
    "filters": st.fixed_dictionaries({"soft": st.just("00"), "hard": st.just("5")}),
}
FLASHES = st.fixed_dictionaries(
    {"seconds": times, "way": st.sampled_from(["no negative", "opal under the lens"])},
    optional={"filter": filters, "beforehand": st.just(value=True)},
)
MORE = {
    "image_mm": st.just([330, 264.5]),
    "developer": st.fixed_dictionaries({"name": words}, optional={"celsius": st.just(20.5), "seconds": st.just(90)}),
    "dry_down_percent": st.integers(1, 20),
    "flash": FLASHES,
    "notes": st.lists(words, min_size=1, max_size=4).map("\n".join),
}


@st.composite
def recipe_trees(draw: st.DrawFn) -> dict[str, Any]:
    bases = draw(st.lists(filters, min_size=1, max_size=4, unique=True))
    local = []
    for _ in range(draw(st.integers(0, 5))):
        act = draw(st.sampled_from(["burn", "dodge", "edge burn"]))
        line = {"area": draw(st.sampled_from("ABC")), "act": act, "filter": draw(st.sampled_from([*bases, "both"]))}
        line |= {"stops": draw(stops)} if draw(st.booleans()) else {"seconds": draw(times)}
        if draw(st.booleans()):
            line["what"] = draw(words)
        if act == "dodge" and draw(st.booleans()):
            line["how"] = draw(st.sampled_from(["parts", "running"]))
        if act == "edge burn":
            line["edges"] = draw(st.lists(st.sampled_from(["top", "left", "bottom"]), min_size=1, unique=True))
        local.append(line)
    light = [{"filter": name, "seconds": draw(times)} for name in bases]
    head = {"format": "treadle/recipe/1", "title": draw(words), "light": light, "local": local}
    return head | draw(some(**GROUPS, **MORE))


@st.composite
def strip_trees(draw: st.DrawFn) -> dict[str, Any]:
    kind = draw(st.sampled_from(["seconds", "stops", "burn"]))
    bands = draw(st.integers(2, 24))
    spacing: dict[str, Any] = {
        "seconds": {"step": draw(times)},
        "stops": {"centre": draw(times), "step": draw(stops)},
        "burn": {"base": draw(times), "step": draw(stops)},
    }[kind]
    lights = st.lists(st.fixed_dictionaries({"filter": filters, "seconds": times}), min_size=1, max_size=4)
    tree = {
        "format": "treadle/strip/1",
        "title": draw(words),
        "filter": draw(filters),
        "times": {"kind": kind, "bands": bands} | spacing,
        "card": draw(st.sampled_from(["cover", "uncover", "window"])),
        "pace": draw(st.sampled_from(["press", "long", {"kind": "rhythm", "gap_seconds": 2.5}])),
    }
    if kind == "stops" and draw(st.booleans()):
        tree["times"]["none_first"] = True
    made_by = st.sampled_from(["first", "finer", "hard over soft", "same place", "burn", "flash", "proof"])
    tree |= draw(some(under=lights, after=lights, template=made_by, **GROUPS))
    if tree.get("template") == "flash":
        return tree | draw(some(opal=st.just(value=True)))
    return tree | draw(some(flash=FLASHES))


@settings(max_examples=60, deadline=None)
@given(recipe_trees())
def test_a_recipe_survives_its_form(tree: dict[str, Any]) -> None:
    """A kept recipe, shown in its form, sent by a browser and read again, says the same."""
    recipe = read_tree(tree, "r")
    assert isinstance(recipe, Recipe)
    form = recipe_form_of(recipe)
    back = read_recipe_form(sent(form))
    assert back == form
    assert meaning(read_recipe(back.text(), "r")) == meaning(recipe)


@settings(max_examples=60, deadline=None)
@given(recipe_2_trees())
def test_a_recipe_of_the_second_form_survives_its_form(tree: dict[str, Any]) -> None:
    """Tools with their outlines, asks before their lines, words and carriers come back as they were."""
    recipe = read_tree({key: value for key, value in tree.items() if value != {} and key != "notes"}, "r")
    assert isinstance(recipe, Recipe)
    form = recipe_form_of(recipe)
    back = read_recipe_form(sent(form))
    assert back == form
    assert meaning(read_recipe(back.text(), "r")) == meaning(recipe)


@settings(max_examples=60, deadline=None)
@given(strip_trees())
def test_a_strip_survives_its_form(tree: dict[str, Any]) -> None:
    """A kept strip, shown in its form, sent by a browser and read again, says the same."""
    strip = read_tree(tree, "s")
    assert isinstance(strip, Strip)
    form = strip_form_of(strip)
    back = read_strip_form(sent(form))
    assert back == form
    assert meaning(read_recipe(back.text(), "s")) == meaning(strip)


raw = st.text(st.characters(codec="utf-8", exclude_characters="\r"), max_size=20).map(str.strip)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_nonsense_comes_back_as_it_was_typed(data: st.DataObject) -> None:
    """Whatever was typed, a form shows it again letter for letter, and it is always a document of some kind."""
    line = WorkLine(**{field.name: data.draw(raw) for field in fields(WorkLine) if field.name != "edges"})
    flat = {field.name: data.draw(raw) for field in fields(RecipeForm) if field.name not in LINES}
    tool = ToolLine(**{field.name: data.draw(raw) for field in fields(ToolLine)})
    ask = HandsLine(**{field.name: data.draw(raw) for field in fields(HandsLine)})
    form = RecipeForm(**flat, lights=(), work=(line,), tools=(tool,), hands=(ask,))
    assert read_recipe_form(sent(form)) == form
    assert json.loads(form.text())["format"] in ("treadle/recipe/1", "treadle/recipe/2")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("", None),
        ("12", 12),
        ("10.1", 10.1),
        ("10,1", 10.1),
        ("−3", -3),
        ("ten", "ten"),
        ("1e3", "1e3"),
        ("nan", "nan"),
        ("Infinity", "Infinity"),
        ("1.2.3", "1.2.3"),
        ("9" * 40, "9" * 40),
    ],
)
def test_a_number_is_read_as_a_person_types_it(typed: str, meant: object) -> None:
    """A comma is a point; what is no plain number stays text, so that the reader can say so."""
    assert number(typed) == meant
    assert type(number(typed)) is type(meant)


def crane() -> RecipeForm:
    return RecipeForm(
        title="Harbour crane",
        lights=read_recipe_form(
            Typed(
                [
                    ("light-0-filter", "soft"),
                    ("light-0-seconds", "10.0"),
                    ("light-1-filter", "hard"),
                    ("light-1-seconds", "8.0"),
                ]
            )
        ).lights,
    )


@pytest.mark.parametrize(
    ("act", "stops_", "said"),
    [
        ("burn", "1/3", "2.6 s"),
        ("burn", "1/2", "4.1 s"),
        ("burn", "2/3", "5.9 s"),
        ("burn", "1", "10.0 s"),
        ("burn", "4/3", "15.2 s"),
        ("dodge", "1/3", "2.1 s"),
        ("dodge", "1/2", "2.9 s"),
    ],
)
def test_stops_are_said_with_their_seconds(act: str, stops_: str, said: str) -> None:
    """On a base of 10.0 s each amount of stops is worth what the worked table says (derived: base·(2^e − 1))."""
    assert crane().worth(WorkLine(act=act, filter="soft"), stops_) == said


def test_work_through_both_filters_says_both() -> None:
    """Work through both filters is reckoned on each base by itself."""
    assert crane().worth(WorkLine(act="burn", filter="both"), "1") == "soft 10.0 s · hard 8.0 s"


def test_dry_down_is_taken_off_before_the_stops() -> None:
    """Stops stand on the base as it is given: 8 % off 10.0 s is 9.2 s, and one stop more is 9.2 s again."""
    assert RecipeForm(lights=crane().lights, dry_down="8").worth(WorkLine(act="burn", filter="soft"), "1") == "9.2 s"


@pytest.mark.parametrize(("seconds", "dry"), [("", ""), ("ten", ""), ("-3", ""), ("10", "lots"), ("10", "200")])
def test_what_cannot_be_reckoned_is_not_said(seconds: str, dry: str) -> None:
    """Where base or dry-down make no sense yet, no seconds stand beside the stops."""
    lights = read_recipe_form(Typed([("light-0-filter", "soft"), ("light-0-seconds", seconds)])).lights
    assert RecipeForm(lights=lights, dry_down=dry).worth(WorkLine(filter="soft")) == ""


@pytest.mark.parametrize(
    ("place", "name"),
    [
        (("title",), "title"),
        (("light", 1, "seconds"), "light-1-seconds"),
        (("light", 1, "filter"), "light-1-filter"),
        (("light", 1), "light-1-seconds"),
        (("local", 0, "stops"), "local-0-dose"),
        (("local", 0, "seconds"), "local-0-seconds"),
        (("local", 0, "edges", 2), "local-0-edges"),
        (("image_mm", 1), "image-short"),
        (("lens", "focal_mm"), "lens-focal"),
        (("head_height_mm",), "head-height"),
        (("dry_down_percent",), "dry-down"),
        (("paper", "support"), "paper-support"),
        (("flash", "way"), "flash-way"),
        (("nowhere", 3), ""),
        ((), ""),
    ],
)
def test_a_refusal_finds_its_field(place: tuple[int | str, ...], name: str) -> None:
    """Each place of the document has the input that a thumb would go to; what has none is about the whole."""
    form = RecipeForm(lights=crane().lights, work=(WorkLine(area="A"),))
    assert form.beside(place) == name


def test_a_strip_s_refusals_find_their_fields() -> None:
    """A strip's step is the seconds or the fineness, whichever is shown."""
    assert StripForm(kind="seconds").beside(("times", "step")) == "step"
    assert StripForm(kind="stops").beside(("times", "step")) == "fineness"
    assert StripForm(kind="stops", fineness="own").beside(("times", "step")) == "fineness-own"
    assert StripForm().beside(("pace", "gap_seconds")) == "gap"
    assert StripForm().beside(("times", "bands")) == "bands"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (WorkLine(area="A", what="sky", filter="soft", dose="1"), "A sky · burn +1 · soft"),
        (WorkLine(area="C", act="dodge", filter="hard", dose="1/3"), "C · dodge −1/3 · hard"),
        (
            WorkLine(area="D", act="edge burn", edges=("top", "left"), filter="2", dose="1/3"),
            "D · burn edges: top, left +1/3 · filter 2",
        ),
        (WorkLine(area="B", filter="both", dose="seconds", seconds="4"), "B · burn 4 s · both filters"),
        (WorkLine(area="B", filter="own", filter_own="green", dose="own", dose_own="5/6"), "B · burn +5/6 · green"),
        (WorkLine(area="A", filter="soft"), "A · burn · soft"),
        (WorkLine(act="?", filter="", dose=""), ""),
    ],
)
def test_a_line_of_local_work_is_said_in_short(line: WorkLine, said: str) -> None:
    """Shut, a line says area, what is done, how much, and through which filter, as far as it is typed."""
    assert line.said() == said


def test_an_empty_row_is_no_line_of_the_document() -> None:
    """What stands in a row's lists by itself is not typed: such a row is none, and the others keep their places."""
    form = read_recipe_form(
        Typed(
            [
                ("light-0-filter", "soft"),
                ("light-0-seconds", ""),
                ("light-1-filter", "hard"),
                ("light-1-seconds", "8"),
                ("local-0-act", "burn"),
                ("local-0-dose", "1/3"),
                ("local-1-area", "B"),
            ]
        )
    )
    tree = form.tree()
    assert tree["light"] == [{"filter": "hard", "seconds": 8}]
    assert [line["area"] for line in tree["local"]] == ["B"]
    assert form.beside(("light", 0, "seconds")) == "light-1-seconds"
    assert form.beside(("local", 0, "stops")) == "local-1-dose"
    assert form.place_name(("light", 0, "seconds")) == "“Seconds” in the second base exposure"
    assert StripForm(under=read_recipe_form(Typed([("light-0-filter", "soft")])).lights).tree().get("under") is None


def test_lines_come_and_go_by_plain_buttons() -> None:
    """A line is added at the end with the next letter, taken away, or moved up, and nothing else changes."""
    form = new_recipe_form()
    for _ in range(3):
        form = form.after(Move("add", "local"))
    assert [line.area for line in form.work] == ["A", "B", "C"]
    form = form.after(Move("up", "local", 2))
    assert [line.area for line in form.work] == ["A", "C", "B"]
    form = form.after(Move("drop", "local", 0))
    assert [line.area for line in form.work] == ["C", "B"]
    assert form.after(Move("add", "local")).work[-1].area == "A"
    assert form.lights == new_recipe_form().lights


@given(st.lists(st.integers(), max_size=5).map(tuple), st.sampled_from(["drop", "up", "turn"]), st.integers(0, 99))
def test_a_button_out_of_place_changes_nothing(lines: tuple[int, ...], verb: str, at: int) -> None:
    """A move of a line that is not there, or of an unknown kind, leaves the lines as they are."""
    after = moved(lines, Move(verb, "local", at), 0)
    if at >= len(lines) or verb == "turn":
        assert after == lines
    assert len(lines) - 1 <= len(after) <= len(lines)


@pytest.mark.parametrize("text", ["", "save", "add", "add local x", "drop local 1 2", "up LOCAL 1"])
def test_other_buttons_are_no_moves(text: str) -> None:
    """Only the buttons of lines are moves."""
    assert read_move(text) is None


def test_turning_the_card_round() -> None:
    """The card comes from the other end; a window has no other end."""
    assert StripForm(card="cover").turned().card == "uncover"
    assert StripForm(card="uncover").turned().card == "cover"
    assert StripForm(card="window").turned().card == "window"


def test_too_many_lines_are_not_read() -> None:
    """A form of a thousand lines is read up to sixty: a sheet cannot have more steps."""
    typed = Typed([(f"local-{line}-area", "A") for line in range(999)])
    assert len(read_recipe_form(typed).work) == 60


def test_the_forms_are_pure() -> None:
    """The forms import neither Flask nor the desk: they are pure."""
    room = Path(__file__).resolve().parents[3] / "webui" / "forms"
    for form in room.glob("*.py"):
        text = form.read_text(encoding="utf-8")
        assert "import flask" not in text
        assert "from flask" not in text


# ---- tools, hands, carriers


def clouds() -> RecipeForm:
    """Return a form with two bases, one line of work, a mask, and an ask before each of them and at the end."""
    return RecipeForm(
        title="Clouds",
        lights=(LightLine(seconds="10", filter="soft"), LightLine(seconds="8", filter="hard")),
        work=(WorkLine(area="A", filter="soft", dose="1/3"),),
        tools=(ToolLine(letter="M", name="sky"),),
        hands=(
            HandsLine(before="light-1", does="carrier B"),
            HandsLine(before="local-0", does="tool M"),
            HandsLine(before="end", words="fan on"),
        ),
    )


def befores(form: RecipeForm) -> list[Any]:
    return [entry["before"] for entry in form.tree()["hands"]]


def test_what_the_program_knows_is_not_typed() -> None:
    """A carrier or a mask chosen from the list has its words; a recipe without any of it is of the first form."""
    tree = clouds().tree()
    assert tree["format"] == "treadle/recipe/2"
    assert tree["hands"] == [
        {"before": 2, "words": "carrier B in, check registration", "carrier": "B"},
        {"before": 3, "words": "mask M, sky"},
        {"before": "end", "words": "fan on"},
    ]
    assert replace(clouds(), tools=(), hands=()).tree()["format"] == "treadle/recipe/1"


def test_an_ask_stays_before_its_line() -> None:
    """Lines that come, go and change places take what is asked before them along."""
    form = clouds()
    assert befores(form) == [2, 3, "end"]
    assert befores(form.after(Move("up", "light", 1))) == [1, 3, "end"]
    assert befores(form.after(Move("drop", "light", 0))) == [1, 2, "end"]
    more = form.after(Move("add", "local"))
    assert [line.before for line in more.hands] == ["light-1", "local-0", "end"]
    assert [line.before for line in more.after(Move("up", "local", 1)).hands] == ["light-1", "local-1", "end"]
    gone = form.after(Move("drop", "local", 0))
    assert ("local-0", "a line that is gone") in list(gone.befores("local-0"))
    with pytest.raises(Unreadable, match="“Before” in the second ask is local-0"):
        read_recipe(gone.text(), "Clouds", place_names=gone.place_name)


def test_an_empty_line_before_it_changes_no_ask() -> None:
    """The document counts the lines that say something; the form counts them all."""
    form = replace(clouds(), lights=(LightLine(filter="2"), *clouds().lights[1:]))
    assert befores(form) == [1, 2, "end"]


@pytest.mark.parametrize(
    ("place", "name"),
    [
        (("tools", 0, "name"), "tools-0-name"),
        (("tools", 0, "height_mm"), "tools-0-height-mm"),
        (("tools", 0, "outline", 2, 1), "tools-0-outline"),
        (("hands", 1, "carrier"), "hands-1-does"),
        (("hands", 2, "before"), "hands-2-before"),
        (("light", 1, "carrier"), "light-1-carrier"),
        (("local", 0, "words"), "local-0-words"),
    ],
)
def test_a_refusal_of_tools_and_hands_finds_its_field(place: tuple[int | str, ...], name: str) -> None:
    """Each has its input, and a name on the page."""
    assert clouds().beside(place) == name
    assert clouds().place_name(place).startswith("“")
