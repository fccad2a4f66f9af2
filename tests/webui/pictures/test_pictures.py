"""The pictures are well formed, true to the plan, and can be read on the narrowest phone."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import combinations, pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.foot_bench import sheet_plan
from tools.picture_darkroom import example

import webui.pages.record as record_
from controller.picture.map_areas import PrintAreas, map_letters, map_of
from controller.recipe.compile_recipe import compile_any
from controller.recipe.plan import Mark, Plan, Step, StepKind, StripPlan
from controller.recipe.recipe import Recipe
from controller.store.records import SheetRecord, StepRecord, When
from controller.store.sessions import Thread, ThreadEnd
from controller.words import say
from webui.pictures import (
    Block,
    Face,
    Picture,
    Point,
    Press,
    TimedLight,
    lamp_checks_picture,
    map_picture,
    plan_blocks,
    size_picture,
    standing_strip,
    strip_picture,
    timeline_line,
    timeline_picture,
    wall_picture,
)
from webui.pictures.drawing import WIDTH
from webui.pictures.map_outlines import letters_of
from webui.pictures.strip import Choice, pulses_in_order, spread

SVG = "{http://www.w3.org/2000/svg}"
THIRDS = (4000, 5000, 6300, 8000, 10100, 12700, 16000)
COVERING = (4000, 1000, 1300, 1700, 2100, 2600, 3300)


def tree(picture: Picture) -> ET.Element:
    return ET.fromstring(str(picture.svg))


def words_in(picture: Picture) -> list[str]:
    return [element.text or "" for element in tree(picture).iter(f"{SVG}text")]


def assert_readable(picture: Picture) -> None:
    for one, two in combinations(picture.texts, 2):
        assert not one.touches(two), f"{one} touches {two}"
    for box in picture.texts:
        assert box.left >= -0.01, box
        assert box.right <= WIDTH + 0.01, box
        assert box.bottom <= picture.height + 0.01, box
    for element in tree(picture).iter(f"{SVG}text"):
        assert float(element.attrib["font-size"]) >= 9.0


def strip(**changes: object) -> StripPlan:
    plain = {
        "filter": "hard",
        "kind": "stops",
        "card": "cover",
        "pace": "press",
        "totals_ms": THIRDS,
        "pulses_ms": COVERING,
    }
    return StripPlan.model_validate(plain | changes)


def step(number: int, act: StepKind, filter_: str, ms: int, **more: object) -> Step:
    return Step.model_validate(
        {"number": number, "name": f"step {number}", "act": act, "filter": filter_, "planned_ms": ms, **more}
    )


def plan(*steps: Step, title: str = "Harbour crane") -> Plan:
    return Plan(source="r", version=1, kind="recipe", title=title, steps=steps)


CRANE = plan(
    step(1, StepKind.BASE, "soft", 10100),
    step(2, StepKind.BURN, "soft", 10100, area="A", what="sky", stops="+1"),
    step(3, StepKind.PART, "hard", 1700, area="C", what="under the cab", stops="−1/3"),
    step(4, StepKind.OPEN, "hard", 6300),
    step(5, StepKind.BURN, "hard", 4700, area="B", what="wet stones", stops="+2/3"),
)

filters = st.sampled_from(["soft", "hard", "2", "00", "orange-ish ½"])
letters = st.text("ABCDEFGHIJ", min_size=1, max_size=3)
words = st.text(max_size=40)


@st.composite
def strips(draw: st.DrawFn) -> StripPlan:
    count = draw(st.integers(2, 24))
    pulses = draw(st.lists(st.integers(100, 120_000), min_size=count, max_size=count))
    totals = [sum(pulses[: band + 1]) for band in range(count)]
    kind = draw(st.sampled_from(["seconds", "stops", "burn"]))
    card = draw(st.sampled_from(["cover", "uncover", "window"]))
    pace = draw(st.sampled_from(["press", "rhythm", "long"]))
    if kind == "burn":
        totals = [0, *totals[:-1]]
        pulses = pulses[:-1]
    if card == "window":
        pulses = [total for total in totals if total]
    if card == "uncover":
        pulses.reverse()
    if pace == "long":
        pulses = [max(totals)]
    return strip(
        filter=draw(filters),
        kind=kind,
        card=card,
        pace=pace,
        totals_ms=totals,
        pulses_ms=pulses,
        stops=[f"{band}/3" for band in range(count)] if kind == "burn" else (),
        base_ms=draw(st.integers(100, 60_000)) if kind == "burn" else None,
    )


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    steps = []
    for number in range(1, draw(st.integers(1, 24)) + 1):
        act = draw(st.sampled_from(list(StepKind)))
        edge = draw(st.sampled_from(["top", "right", "bottom", "left"])) if act is StepKind.EDGE else None
        marks = (Mark(at_ms=0, cue="dodger in", area=draw(letters)),) if act is StepKind.RUNNING else ()
        steps.append(
            step(
                number,
                act,
                draw(filters),
                draw(st.integers(100, 600_000)),
                area=draw(letters),
                what=draw(words),
                edge=edge,
                marks=marks,
                stops=draw(st.sampled_from([None, "+1 1/3", "-1/12", "1.25"])),
            )
        )
    return plan(*steps, title=draw(words))


def test_a_strip_says_its_seconds_in_its_bands() -> None:
    """Every band carries its own total, lowest at the nick, and the pulses follow in the order given."""
    picture = strip_picture(strip(), ident="s")
    assert words_in(picture)[1:8] == ["4.0", "5.0", "6.3", "8.0", "10.1", "12.7", "16.0"]
    assert words_in(picture)[9:] == ["4.0", "1.0", "1.3", "1.7", "2.1", "2.6", "3.3"]


def test_turning_the_card_turns_the_pulses() -> None:
    """Uncovering plays covering's pulses the other way round, and the card's arrow points the other way.

    Pulses: thirds round 12 s by 7 bands, derived in the facts (6.0 1.6 1.9 2.5 3.1 3.9 5.0), reversed.
    """
    totals = (6000, 7600, 9500, 12000, 15100, 19000, 24000)
    pulses = (6000, 1600, 1900, 2500, 3100, 3900, 5000)
    cover = words_in(strip_picture(strip(totals_ms=totals, pulses_ms=pulses), ident="s"))
    other = strip(totals_ms=totals, pulses_ms=pulses[::-1], card="uncover")
    uncover = words_in(strip_picture(other, ident="s"))
    assert uncover[9:] == cover[9:][::-1] == ["5.0", "3.9", "3.1", "2.5", "1.9", "1.6", "6.0"]
    assert uncover[0] != cover[0]


@pytest.mark.parametrize("card", ["cover", "uncover"])
def test_one_long_light_is_cut_into_the_same_spans(card: str) -> None:
    """A strip in one light moves the card after the spans that a strip of presses would have given."""
    pulses = COVERING if card == "cover" else COVERING[::-1]
    by_press, _ = pulses_in_order(strip(card=card, pulses_ms=pulses))
    in_one, one_light = pulses_in_order(strip(card=card, pulses_ms=(16000,), pace="long"))
    assert one_light
    assert in_one == by_press


def test_bands_darken_with_their_light() -> None:
    """More light is drawn as a darker grey, band after band."""
    picture = tree(strip_picture(strip(), ident="s"))
    greys = [
        int(box.attrib["fill"][1:3], 16)
        for box in picture.iter(f"{SVG}rect")
        if re.fullmatch(r"#(..)\1\1", box.attrib["fill"]) and box.attrib["height"] == "66"
    ]
    assert len(greys) == 7
    assert greys == sorted(greys, reverse=True)
    assert len(set(greys)) == 7


@settings(max_examples=60, deadline=None)
@given(strips(), st.sampled_from(Face), st.data())
def test_any_strip_can_be_read_at_320_pixels(plan_: StripPlan, face: Face, data: st.DataObject) -> None:
    """No two words of a strip's picture touch, none leaves it, and none is smaller than 9 pixels."""
    band = data.draw(st.integers(1, len(plan_.totals_ms) - 1))
    chosen = data.draw(st.sampled_from([None, Choice(band), Choice(band, between=True)]))
    assert_readable(strip_picture(plan_, ident="s", face=face, chosen=chosen))


@settings(max_examples=30, deadline=None)
@given(strips())
def test_a_standing_strip_offers_every_band_and_every_line(plan_: StripPlan) -> None:
    """Each band and each line between two is a link of at least 70 by 70 pixels that says what it is."""
    picture = standing_strip(
        plan_,
        ident="s",
        address=lambda choice: f"?band={choice.band}&between={choice.between:d}",
        between=lambda band: f"{band} s",
    )
    assert_readable(picture)
    links = list(tree(picture).iter(f"{SVG}a"))
    count = len(plan_.totals_ms)
    assert {link.attrib["href"] for link in links} == {f"?band={band}&between=0" for band in range(1, count + 1)} | {
        f"?band={band}&between=1" for band in range(1, count)
    }
    for link in links:
        assert link.attrib["aria-label"]
        box = next(link.iter(f"{SVG}rect"))
        assert float(box.attrib["width"]) >= 70
        assert float(box.attrib["height"]) >= 70


def test_a_timeline_has_the_lanes_its_sheet_needs() -> None:
    """Soft stands above hard, seconds and letters beneath each light, and the change of filter is named."""
    picture = timeline_picture(plan_blocks(CRANE), ident="t", title="Harbour crane")
    said = words_in(picture)
    assert said.index("soft") < said.index("hard")
    assert [word for word in said if "." in word] == ["10.1", "10.1", "1.7", "6.3", "4.7"]
    assert {"A", "B", "C in"} <= set(said)
    assert sum("hard" in word for word in said) == 2
    assert "32.9" in tree(picture).attrib["aria-label"]


def test_planned_is_an_outline_and_given_is_solid() -> None:
    """A light that was cut short fills its share of the outline, and says what it gave of what was planned."""
    given_ = Block(1, "soft", 10_000, lights=(TimedLight(4_000, cut_short=True),))
    picture = timeline_picture([given_], ident="t", title="Sheet 3")
    boxes = list(tree(picture).iter(f"{SVG}rect"))
    boxes = [box for box in boxes if box.attrib["height"] == "24"]
    outline, solid = boxes
    assert outline.attrib["fill"] == Face.DAY.paper
    assert solid.attrib["fill"] == "url(#t-soft)"
    assert float(solid.attrib["width"]) == pytest.approx(0.4 * float(outline.attrib["width"]), abs=0.02)
    assert words_in(picture)[1:3] == ["4.0", "of 10.0"]


def test_presses_that_started_nothing_are_hollow() -> None:
    """Each foot press is a triangle; one that started nothing has no ink inside."""
    block = Block(1, "soft", 10_000, lights=(TimedLight(10_000),))
    feet = [Press(1), Press(1, 4_000), Press(2, counted=False)]
    picture = timeline_picture([block], ident="t", title="Sheet 3", presses=feet)
    triangles = [path for path in tree(picture).iter(f"{SVG}path") if path.attrib["d"].endswith("l4 8h-8z")]
    assert sorted(path.attrib["fill"] for path in triangles) == sorted([Face.DAY.ink, Face.DAY.ink, Face.DAY.paper])


@settings(max_examples=60, deadline=None)
@given(plans(), st.sampled_from(Face))
def test_any_timeline_and_map_can_be_read_at_320_pixels(plan_: Plan, face: Face) -> None:
    """No two words of a timeline or a printing map touch, none leaves the picture, whatever the plan."""
    assert_readable(timeline_picture(plan_blocks(plan_), ident="t", title=plan_.title, face=face))
    mapped = map_picture(plan_, ident="m", image_mm=(240, 192), face=face)
    if mapped is not None:
        assert_readable(mapped)


def bars_of(picture: Picture) -> list[tuple[float, float]]:
    """Return left edge and width of each exposure of a low timeline."""
    found = [one.attrib for one in tree(picture).iter(f"{SVG}rect") if one.attrib.get("y") == "1"]
    return [(float(bar["x"]), float(bar["width"])) for bar in found]


def test_the_low_timeline_is_one_line_to_scale() -> None:
    """All exposures stand beside each other in one line, as wide as they are long, with words where these fit."""
    picture = timeline_line(plan_blocks(CRANE), ident="t", title="Harbour crane")
    bars = bars_of(picture)
    assert len(bars) == len(CRANE.steps)
    assert all(left + width <= after for (left, width), (after, _) in pairwise(bars))
    wide = [width / step_.planned_ms for (_, width), step_ in zip(bars, CRANE.steps, strict=True)]
    assert max(wide) < 1.1 * min(wide)
    assert words_in(picture) == ["10.1", "A 10.1", "6.3", "B 4.7"]
    assert picture.height <= 40


@settings(max_examples=40, deadline=None)
@given(plans())
def test_any_low_timeline_fits_the_narrowest_phone(plan_: Plan) -> None:
    """However many exposures and changes of filter there are, all of them are in the line, and no words touch."""
    picture = timeline_line(plan_blocks(plan_), ident="t", title=plan_.title)
    assert_readable(picture)
    bars = bars_of(picture)
    assert len(bars) == len(plan_.steps)
    assert all(width >= 1 and left + width <= WIDTH for left, width in bars)


def test_a_map_shows_letter_step_and_sign() -> None:
    """A printing map carries each area's letter with the step's number, + for burns and − for dodges."""
    picture = map_picture(CRANE, ident="m")
    assert picture is not None
    said = words_in(picture)
    assert [word for word in said if word in {"A", "B", "C"}] == ["A", "C", "B"]
    assert "2 · sky" in said
    fills = [box.attrib["fill"] for box in tree(picture).iter(f"{SVG}rect") if box.attrib["height"] == "30"]
    assert fills == ["url(#m-more)", "url(#m-less)", "url(#m-more)"]


def areas(plan_: Plan, *, across: float = 240.0, down: float = 192.0) -> PrintAreas:
    """Return outlines for all letters of a plan, some of them over each other."""
    letters = list(dict.fromkeys(letter for each in plan_.steps for letter in letters_of(each)))
    boxes = [(0.0, 0.0, 1.0, 0.37), (0.0, 0.81, 1.0, 1.0), (0.28, 0.55, 0.76, 0.71), (0.4, 0.4, 0.9, 0.9)]
    outlines = []
    for place, letter in enumerate(letters):
        left, top, right, bottom = boxes[place % len(boxes)]
        outlines.append((letter, ((left, top), (right, top), (right, bottom), (left, bottom))))
    return PrintAreas("crane", across, down, tuple(outlines))


@pytest.mark.parametrize("face", Face)
@settings(max_examples=40, deadline=None)
@given(plans(), st.sampled_from([(240.0, 192.0), (192.0, 240.0), (500.0, 60.0), (60.0, 500.0)]))
def test_any_outlined_map_can_be_read(face: Face, plan_: Plan, sides: tuple[float, float]) -> None:
    """No two words of an outlined map touch, whatever lies over what, and in the dark it is red alone."""
    picture = map_picture(plan_, ident="m", areas=areas(plan_, across=sides[0], down=sides[1]), face=face)
    if picture is None:
        return
    assert_readable(picture)
    if face is Face.DARK:
        colours = re.findall(r'"#([0-9a-f]{6})"', str(picture.svg))
        assert all(int(colour[:2], 16) <= 90 and colour[2:] == "0000" for colour in colours)


def test_masks_stand_on_the_map_with_their_lights() -> None:
    """Each mask is outlined with the numbers of the lights that it lies in, and has a row with its name."""
    model = example("two-negatives.recipe.json")
    assert isinstance(model, Recipe)
    plan = compile_any(model, source="two", version=1)
    found = map_of(model.tools, {}, map_letters(plan.steps), (252.0, 202.0))
    assert found is not None
    assert [letter for letter, _ in found.outlines] == ["M", "N"]
    picture = map_picture(plan, ident="m", areas=found)
    assert picture is not None
    words = [text.words for text in picture.texts]
    lies = {letter: [step.number for step in plan.steps if letter in step.in_place] for letter in "MN"}
    for letter, name in (("M", "sky mask"), ("N", "shore mask")):
        numbers = ", ".join(map(str, lies[letter]))
        assert f"{letter} · {numbers}" in words, "on the outline itself"
        assert name in words
        assert say("shelf.map-lies", numbers=numbers) in words
    assert_readable(picture)
    alone = plan.model_copy(update={"steps": tuple(step for step in plan.steps if not step.area)})
    assert map_picture(alone, ident="m", areas=found) is not None, "masks alone are a map as well"


def test_known_areas_are_outlined_with_letter_steps_and_hatch() -> None:
    """Where areas are known, each is outlined where it lies, hatched by its sign, with its letter and its steps."""
    more = step(6, StepKind.BURN, "soft", 4000, area="C")
    edge = step(7, StepKind.EDGE, "soft", 4000, edge="left")
    plan_ = plan(*CRANE.steps, more, edge)
    picture = map_picture(plan_, ident="m", areas=areas(plan_))
    plain = map_picture(CRANE, ident="m", areas=areas(CRANE))
    assert picture is not None
    assert plain is not None
    assert {"A · 2", "C · 3−, 6+", "B · 5", "7"} <= set(words_in(picture))
    paths = [path.attrib for path in tree(plain).iter(f"{SVG}path") if path.attrib["d"].endswith("Z")]
    assert [path["fill"] for path in paths] == ["url(#m-more)", "none", "url(#m-less)", "none", "url(#m-more)", "none"]
    label = next(box for box in plain.texts if box.words == "B · 5")
    frame = tree(plain).find(f"{SVG}rect")
    assert frame is not None
    left, top, width, height = (float(frame.attrib[name]) for name in ("x", "y", "width", "height"))
    assert width / height == pytest.approx(240 / 192, abs=0.01)
    assert left + 0.28 * width < (label.left + label.right) / 2 < left + 0.76 * width
    assert top + 0.55 * height < (label.top + label.bottom) / 2 < top + 0.71 * height


def test_an_edge_in_the_list_carries_its_sign() -> None:
    """A step without a letter shows its sign in its tile, not a row of dots."""
    picture = map_picture(plan(step(1, StepKind.EDGE, "soft", 4000, edge="top")), ident="m")
    assert picture is not None
    assert "+" in words_in(picture)


def test_a_plan_without_local_work_has_no_map() -> None:
    """Where nothing is dodged or burned there is no printing map to draw."""
    assert map_picture(plan(step(1, StepKind.BASE, "soft", 10_000)), ident="m") is None


@settings(max_examples=60, deadline=None)
@given(*[st.tuples(st.integers(30, 700), st.integers(30, 700))] * 2)
def test_a_change_of_size_is_to_scale(old: tuple[int, int], new: tuple[int, int]) -> None:
    """Both prints are drawn to one scale, and their captions do not touch."""
    picture = size_picture(old, new, ident="z", words="x", captions=(f"now {old}", f"new {new}"))
    assert_readable(picture)
    boxes = [(float(b.attrib["width"]), float(b.attrib["height"])) for b in tree(picture).iter(f"{SVG}rect")]
    scales = {
        round(a / b, 2) for drawn, real in zip(boxes, (new, old), strict=True) for a, b in zip(drawn, real, strict=True)
    }
    assert max(scales) - min(scales) < 0.02


@settings(max_examples=40, deadline=None)
@given(plans(), words)
def test_whatever_is_typed_stays_words(plan_: Plan, title: str) -> None:
    """A title or a word with marks of its own is escaped: the picture stays well formed and has no script."""
    hostile = title.replace("\x00", "") + '"><script>&'
    picture = timeline_picture(plan_blocks(plan_), ident="t", title=hostile)
    assert "<script" not in str(picture.svg)
    assert hostile.strip()[-8:] in tree(picture).attrib["aria-label"]


@settings(max_examples=40, deadline=None)
@given(strips(), plans())
def test_the_dark_face_is_red_alone(strip_: StripPlan, plan_: Plan) -> None:
    """In the dark every colour has no green and no blue, and at most 90 of red."""
    pictures = [
        strip_picture(strip_, ident="a", face=Face.DARK),
        timeline_picture(plan_blocks(plan_), ident="b", title="x", face=Face.DARK),
        map_picture(plan_, ident="c", face=Face.DARK),
    ]
    for picture in filter(None, pictures):
        for colour in re.findall(r'"#([0-9a-f]{3,6})"', str(picture.svg)):
            digits = colour if len(colour) == 6 else "".join(2 * digit for digit in colour)
            assert int(digits[:2], 16) <= 90, colour
            assert digits[2:] == "0000", colour


def test_two_pictures_on_a_page_share_no_id() -> None:
    """Every id in a picture begins with the picture's own name, and every reference names one that is there."""
    both = str(strip_picture(strip(), ident="one").svg) + str(strip_picture(strip(), ident="two").svg)
    ids = re.findall(r'id="([^"]+)"', both)
    assert len(ids) == len(set(ids)) == 2
    assert set(re.findall(r"url\(#([^)]+)\)", both)) == set(ids)


def test_no_picture_styles_itself() -> None:
    """Pictures use attributes only: the page's content security policy allows no inline style."""
    pictures = [strip_picture(strip(), ident="a"), timeline_picture(plan_blocks(CRANE), ident="b", title="x")]
    assert all("style=" not in str(picture.svg) for picture in pictures)


@given(st.lists(st.tuples(st.floats(0, 288), st.floats(1, 20)), min_size=1, max_size=14))
def test_spread_labels_keep_their_order_and_their_distance(labels: list[tuple[float, float]]) -> None:
    """Labels are pushed apart until none touches another, in the order of their places."""
    wanted = sorted(want for want, _ in labels)
    runs = [run for _, run in labels]
    places = spread(wanted, runs, WIDTH)
    for one in range(len(places) - 1):
        assert places[one] + runs[one] / 2 <= places[one + 1] - runs[one + 1] / 2 + 1e-6
    assert places[0] >= runs[0] / 2 - 1e-6
    assert places[-1] <= WIDTH - runs[-1] / 2 + 1e-6


# ---- the wall


def sheet(number: int, plan_: Plan, *, outcome: str = "complete") -> SheetRecord:
    when = When(row=1, boot="b", at_ns=0, wall="2024-03-01T20:15:00+00:00", synchronised=True)
    return SheetRecord.model_validate(
        {"id": f"s{number}", "number": number, "plan": plan_, "outcome": outcome, "opened": when, "ended": when}
        | {"steps": tuple(StepRecord(step=each, given_most_ms=each.planned_ms) for each in plan_.steps)}
    )


@st.composite
def evenings(draw: st.DrawFn) -> tuple[list[SheetRecord], dict[str, Thread]]:
    outcomes = st.sampled_from(["complete", "spoiled", "open"])
    records = []
    for number in range(1, draw(st.integers(1, 7)) + 1):
        laid = draw(plans())
        if draw(st.booleans()):
            laid = laid.model_copy(update={"kind": "strip", "strip": draw(strips())})
        records.append(sheet(draw(st.integers(0, 900)) * 10 + number, laid, outcome=draw(outcomes)))
    threads = {}
    for place, record in enumerate(records):
        earlier = [ThreadEnd(id=each.id, number=each.number) for each in records[:place]]
        end = st.sampled_from([None, ThreadEnd(id="of another evening", number=draw(st.integers(1, 9999))), *earlier])
        threads[record.id] = Thread(strip=draw(end), before=draw(end))
    return records, threads


@pytest.mark.parametrize("face", Face)
@settings(max_examples=40, deadline=None)
@given(evenings())
def test_any_wall_can_be_read(face: Face, evening: tuple[list[SheetRecord], dict[str, Thread]]) -> None:
    """No two words on a wall touch, each sheet is a link in order, each thread on it is drawn; no print in the dark."""
    records, threads = evening
    picture = wall_picture(records, threads, ident="w", shown={records[0].id: "/photographs/p.jpg"}, face=face)
    assert_readable(picture)
    links = [link.attrib["href"] for link in tree(picture).iter(f"{SVG}a")]
    assert links == [f"/sheets/{record.id}" for record in records]
    knots = [path for path in tree(picture).iter(f"{SVG}path") if "a4 4" in path.attrib["d"]]
    here = {record.id for record in records}
    assert len(knots) == sum(thread.before is not None and thread.before.id in here for thread in threads.values())
    assert len(list(tree(picture).iter(f"{SVG}image"))) == (face is Face.DAY)
    if face is Face.DARK:
        colours = re.findall(r'"#([0-9a-f]{6})"', str(picture.svg))
        assert all(int(colour[:2], 16) <= 90 and colour[2:] == "0000" for colour in colours)


def test_a_thread_ends_at_the_print_it_made() -> None:
    """A thread runs from the middle of one sheet's card to a knot at the next one's, and a print names its strip."""
    records = [sheet(4, plan(CRANE.steps[0]).model_copy(update={"kind": "strip", "strip": strip()})), sheet(5, CRANE)]
    records.append(sheet(6, CRANE, outcome="spoiled"))
    strip_sheet = ThreadEnd(id="s4", number=4)
    picture = wall_picture(records, {"s6": Thread(strip=strip_sheet, before=strip_sheet)}, ident="w")
    boxes = [box for box in tree(picture).iter(f"{SVG}rect") if box.attrib.get("stroke-width") == "1.2"]
    middles = [float(box.attrib["y"]) + float(box.attrib["height"]) / 2 for box in boxes]
    thread = next(path.attrib["d"] for path in tree(picture).iter(f"{SVG}path") if "S" in path.attrib["d"])
    numbers = [float(number) for number in re.findall(r"[\d.]+", thread)]
    assert (numbers[1], numbers[-1]) == (middles[0], middles[2])
    said = words_in(picture)
    assert said.count(say("wall.from-strip", number=4)) == 1
    assert said.index(say("wall.from-strip", number=4)) > said.index("6")
    assert {"4.0", "16.0"} <= set(said)
    assert say("wall.light", seconds="32.9") in said


def test_a_title_on_the_wall_breaks_between_its_words() -> None:
    """A title that is too long for one line beside its card goes on in a second one, and no word of it is cut."""
    title = "Harbour crane, split grade"
    picture = wall_picture([sheet(1, CRANE.model_copy(update={"title": title}))], {}, ident="w")
    said = words_in(picture)
    assert title not in said
    assert title in " ".join(said)


# ---- the lamp over the months

YEAR = ("7 lamp checks", "24 September", "30 September", "a ring: a reference, where counting begins")


def dots(picture: Picture) -> list[tuple[float, float, str]]:
    """Return where each check's point stands, and what it is filled with; the last one is the ring's key."""
    paths = ((path, re.match(r"M([\d.]+) ([\d.]+)a", path.attrib["d"])) for path in tree(picture).iter(f"{SVG}path"))
    return [(float(at[1]), float(at[2]), path.attrib["fill"]) for path, at in paths if at is not None][:-1]


@pytest.mark.parametrize("face", Face)
@given(st.lists(st.tuples(st.floats(0, 900), st.floats(-4, 4), st.booleans()), min_size=1, max_size=40))
@settings(max_examples=40, deadline=None)
def test_lamp_checks_stand_by_day_and_stops(face: Face, checks: list[tuple[float, float, bool]]) -> None:
    """A later check stands further right, a stronger lamp higher, a reference is a ring; the words can be read."""
    points = [Point(day, 0.0 if first else stops, first) for day, stops, first in sorted(checks)]
    picture = lamp_checks_picture(points, ident="lamp", words=YEAR, face=face)
    assert_readable(picture)
    stood = dots(picture)
    assert len(stood) == len(points)
    for (one, at), (other, then) in combinations(zip(points, stood, strict=True), 2):
        assert at[0] <= then[0] + 0.01
        assert (one.stops - other.stops) * (at[1] - then[1]) <= 0.05
    assert all((fill == face.paper) == point.reference for point, (_, _, fill) in zip(points, stood, strict=True))
    assert all(0 <= x <= WIDTH and 0 <= y <= picture.height for x, y, _ in stood)


def test_lamp_checks_in_the_dark_are_red_on_black_and_say_what_they_show() -> None:
    """In the dark face nothing but dim red on black; the sentence says the chart to one who cannot see it."""
    picture = lamp_checks_picture([Point(0, 0, True), Point(90, -0.2)], ident="lamp", words=YEAR, face=Face.DARK)
    colours = set(re.findall(r"#[0-9a-f]{3,6}", str(picture.svg)))
    assert colours <= {Face.DARK.ink, Face.DARK.faint, Face.DARK.paper}
    assert tree(picture).attrib["aria-label"] == "7 lamp checks"
    assert {"0", "+1/4", "−1/4", "24 September", "30 September"} <= set(words_in(picture))


def test_the_same_plan_is_drawn_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan's timeline is kept for an equal plan, and another plan has its own."""
    drawn: list[str] = []
    really = record_.timeline_picture

    def noted(blocks: Sequence[Block], *, ident: str, title: str) -> Picture:
        drawn.append(title)
        return really(blocks, ident=ident, title=title)

    monkeypatch.setattr(record_, "timeline_picture", noted)
    one = sheet_plan().model_copy(update={"title": "kept timeline"})
    first = record_.plan_picture(one)
    assert record_.plan_picture(one.model_copy()) == first
    other = record_.plan_picture(one.model_copy(update={"title": "another timeline"}))
    assert other != first
    assert drawn == ["kept timeline", "another timeline"]
