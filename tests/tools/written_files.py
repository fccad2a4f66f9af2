"""Example files and made-up valid ones, for every test that reads, compiles or refuses them."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from controller.recipe.files import read_feet, read_recipe, read_tree
from controller.recipe.foot_trace import FeetTrace
from controller.recipe.recipe import Recipe
from controller.recipe.strip import Strip

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
Tree = dict[str, Any]


def text_of(name: str) -> str:
    """Return the text of an example file."""
    return (EXAMPLES / name).read_text(encoding="utf-8")


def tree_of(name: str) -> Tree:
    """Return the tree of an example file."""
    tree = json.loads(text_of(name))
    assert isinstance(tree, dict)
    return tree


def recipe_of(name: str) -> Recipe:
    """Return an example recipe."""
    model = read_recipe(text_of(name), name)
    assert isinstance(model, Recipe)
    return model


def strip_of(name: str) -> Strip:
    """Return an example strip."""
    model = read_recipe(text_of(name), name)
    assert isinstance(model, Strip)
    return model


def recipe_from(**changes: object) -> Recipe:
    """Return a recipe of one 10.0 s base through "2", with `changes`."""
    tree = {"format": "treadle/recipe/1", "title": "a print", "light": [{"filter": "2", "seconds": 10.0}], "local": []}
    model = read_tree(tree | changes, "here")
    assert isinstance(model, Recipe)
    return model


def strip_from(**changes: object) -> Strip:
    """Return a covered strip of 3 s bands through "2", with `changes`."""
    tree: Tree = {
        "format": "treadle/strip/1",
        "title": "a strip",
        "filter": "2",
        "times": {"kind": "seconds", "step": 3, "bands": 5},
        "card": "cover",
        "pace": "press",
    }
    model = read_tree(tree | changes, "here")
    assert isinstance(model, Strip)
    return model


def feet_of(name: str) -> FeetTrace:
    """Return an example foot trace."""
    return read_feet(text_of(name), name)


WORDS = st.text("abcXYZ ½×“”äß中", min_size=1, max_size=20).filter(lambda t: t == t.strip() and t.isprintable())
FILTERS = st.sampled_from(["soft", "hard", "00", "2", "4½"])
STOPS = st.one_of(
    st.integers(1, 3),
    st.sampled_from(["1/12", "1/6", "1/4", "1/3", "1/2", "2/3", "1", "1 1/3", "4/3", "+1/3", "0.5", "2.25"]),
)


def seconds(least: str = "0.1", most: str = "600") -> st.SearchStrategy[float | int]:
    """Return seconds as files hold them: whole, or to the tenth, hundredth or millisecond."""
    numbers = st.integers(0, 3).flatmap(
        lambda places: st.decimals(Decimal(least), Decimal(most), places=places, allow_nan=False)
    )
    return numbers.map(lambda d: int(d) if d == int(d) else float(d))


def _optional(**keys: st.SearchStrategy[Any]) -> st.SearchStrategy[Tree]:
    return st.fixed_dictionaries({}, optional=keys)


_LIGHT = st.fixed_dictionaries({"filter": FILTERS, "seconds": seconds()})
_LENS = _optional(focal_mm=st.integers(25, 300), aperture=st.sampled_from([2.8, 4, 5.6, 8, 11]))
_NEGATIVE = st.fixed_dictionaries({"name": WORDS}, optional={"format": WORDS})
_PAPER = st.fixed_dictionaries({"name": WORDS}, optional={"support": st.sampled_from(["RC", "FB"]), "size": WORDS})
_COMMON: dict[str, st.SearchStrategy[Any]] = {
    "negative": _NEGATIVE,
    "paper": _PAPER,
    "lens": _LENS,
    "head_height_mm": st.integers(0, 1500),
    "magnification": st.sampled_from([0.5, 1, 2.0, 4.725]),
    "filters": _optional(soft=FILTERS, hard=FILTERS),
}


_FLASH = st.fixed_dictionaries(
    {"seconds": seconds(most="20"), "way": st.sampled_from(["no negative", "opal under the lens"])},
    optional={"filter": FILTERS, "beforehand": st.just(value=True)},
)


@st.composite
def works(draw: st.DrawFn, bases: list[str]) -> Tree:
    """Return one piece of local work on the bases."""
    act = draw(st.sampled_from(["burn", "dodge", "edge burn"]))
    in_stops = draw(st.booleans())
    on_base = act == "dodge" or in_stops
    work: Tree = {
        "area": draw(st.sampled_from("ABCDEF")),
        "act": act,
        "filter": draw(st.sampled_from([*bases, "both"]) if on_base else st.one_of(FILTERS, st.just("both"))),
    }
    if draw(st.booleans()):
        work["what"] = draw(WORDS)
    if in_stops:
        work["stops"] = draw(STOPS)
    else:
        work["seconds"] = draw(seconds(most="30"))
    if act == "dodge" and draw(st.booleans()):
        work["how"] = draw(st.sampled_from(["parts", "running"]))
    if act == "edge burn":
        work["edges"] = draw(
            st.lists(st.sampled_from(["top", "right", "bottom", "left"]), min_size=1, max_size=4, unique=True)
        )
    return work


@st.composite
def recipe_trees(draw: st.DrawFn) -> Tree:
    """Return a valid recipe's tree."""
    bases = draw(st.lists(FILTERS, min_size=1, max_size=4, unique=True))
    tree: Tree = {
        "format": "treadle/recipe/1",
        "title": draw(WORDS),
        "light": [{"filter": base, "seconds": draw(seconds())} for base in bases],
        "local": draw(st.lists(works(bases), max_size=5)),
    }
    return tree | draw(
        _optional(
            **_COMMON,
            image_mm=st.tuples(st.integers(200, 600), st.integers(50, 200)).map(list),
            developer=st.fixed_dictionaries(
                {"name": WORDS},
                optional={
                    "dilution": WORDS,
                    "celsius": st.sampled_from([20, 20.5]),
                    "seconds": st.integers(1, 300),
                },
            ),
            dry_down_percent=st.sampled_from([0, 5, 8, 10.5]),
            flash=_FLASH,
            notes=st.text(max_size=40).filter(lambda t: all(c.isprintable() or c in "\n\r\t" for c in t)),
        )
    )


_OUTLINES = st.tuples(st.floats(0, 0.5), st.floats(0, 0.5), st.floats(0.1, 0.5)).map(
    lambda at: [
        [round(at[0] + right * at[2], 3), round(at[1] + down * at[2], 3)]
        for right, down in ((0, 0), (1, 0), (1, 1), (0, 1))
    ]
)
_TOOL = st.fixed_dictionaries(
    {"kind": st.sampled_from(["card", "hole", "dodger", "mask", "blade"]), "name": WORDS},
    optional={"height_mm": st.integers(0, 300), "outline": _OUTLINES},
)


@st.composite
def recipe_2_trees(draw: st.DrawFn, *, carriers: bool = True) -> Tree:
    """Return a valid recipe's tree in the second form, with one thing of it at the least."""
    tree = draw(recipe_trees()) | {"format": "treadle/recipe/2"}
    letters = draw(st.lists(st.sampled_from("ABCDMN"), max_size=4, unique=True))
    tools = [{"letter": letter, **draw(_TOOL)} for letter in letters]
    named = [word for tool in tools for word in (tool["name"], f"{tool['kind']} {tool['letter']} in", tool["kind"])]
    said = st.one_of(st.sampled_from(named), WORDS) if named else WORDS
    if carriers and draw(st.booleans()):
        tree["light"] = [light | {"carrier": draw(st.sampled_from("AB"))} for light in tree["light"]]
        other = {"A": "B", "B": "A"}
        if len(tree["light"]) < 4 and draw(st.booleans()):
            again = tree["light"][0]
            tree["light"] = [*tree["light"], again | {"carrier": other[again["carrier"]]}]
    tree["local"] = [work | ({"words": draw(WORDS)} if draw(st.booleans()) else {}) for work in tree["local"]]
    hands = []
    for _ in range(draw(st.integers(0 if tools else 1, 5))):
        before = draw(st.one_of(st.integers(1, len(tree["light"]) + len(tree["local"])), st.just("end")))
        entry = {"before": before, "words": draw(said)}
        if carriers and draw(st.booleans()):
            light = tree["light"][before - 1] if before != "end" and before <= len(tree["light"]) else {}
            entry["carrier"] = light.get("carrier") or draw(st.sampled_from("AB"))
        hands.append(entry)
    return tree | ({"tools": tools} if tools else {}) | ({"hands": hands} if hands else {})


@st.composite
def strip_trees(draw: st.DrawFn) -> Tree:
    """Return a valid strip's tree."""
    bands = draw(st.integers(2, 24))
    times: Tree = draw(
        st.one_of(
            st.fixed_dictionaries({"kind": st.just("seconds"), "step": seconds(most="30"), "bands": st.just(bands)}),
            st.fixed_dictionaries(
                {"kind": st.just("stops"), "centre": seconds("1", "60"), "step": STOPS, "bands": st.just(bands)},
                optional={"none_first": st.booleans()},
            ),
            st.fixed_dictionaries(
                {"kind": st.just("burn"), "base": seconds("1", "60"), "step": STOPS, "bands": st.just(bands)}
            ),
        )
    )
    tree: Tree = {
        "format": "treadle/strip/1",
        "title": draw(WORDS),
        "filter": draw(FILTERS),
        "times": times,
        "card": draw(st.sampled_from(["cover", "uncover", "window"])),
        "pace": draw(
            st.sampled_from(
                ["press", "long", {"kind": "rhythm", "gap_seconds": 4.0}, {"kind": "rhythm", "gap_seconds": 2}]
            )
        ),
    }
    made_by = st.sampled_from(["first", "finer", "hard over soft", "same place", "burn", "flash", "proof"])
    lights = st.lists(_LIGHT, max_size=3)
    tree |= draw(_optional(**_COMMON, under=lights, after=lights, template=made_by))
    threshold = tree.get("template") == "flash"
    return tree | draw(_optional(opal=st.just(value=True)) if threshold else _optional(flash=_FLASH))
