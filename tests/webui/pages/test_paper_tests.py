"""The pages of two tests: a paper in long light, and the developer's least time; what they set and what they refuse."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest
from tools.fitted_papers import demo
from tools.paper_tested import long_exposures, pieces
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.daemon.developer_trial import DeveloperTrial
from controller.daemon.reciprocity_trial import ReciprocityTrial
from controller.errors import StoreTrouble
from controller.lamp.history import CheckLine
from controller.paper.paper import Reciprocity
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.said_of_sheets import Picked
from controller.trials import developer


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        kept = made.papers().keep(demo().model_copy(update={"name": "paper one"}))
        made.show(bench=AtEnlarger(paper=kept.id, paper_title="paper one", support="RC", aperture=8.0))
        made.change_settings({"trays": "clocks"})
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def send(phone: Phone, to: str, **fields: str) -> tuple[int, str]:
    """Send one of a page's forms, signed as the page has it; return the status and the words of the answer."""
    page = phone.look("/tests/" + to.split("/")[2])
    signed = [pair for pair in page.fields if pair[0] in ("token", "number", "run")][:3]
    answer = phone.send(to, [*signed, *((name.replace("_", "-"), value) for name, value in fields.items())])
    return answer.status_code, Page(answer.text).words


# ---- a paper in long light


def test_the_strip_begins_from_the_last_light_on_this_paper(desk: StandInDesk, phone: Phone) -> None:
    """Nothing printed yet: a sentence. Then the last pick or base as the enlarger stands; nothing is typed."""
    assert "Nothing was printed on this paper yet" in phone.look("/tests/reciprocity").words
    assert send(phone, "/tests/reciprocity/begin")[0] == 422
    plan = desk.recipes().plan(desk.strip.id).standing(desk.status().bench)
    desk.work_plan(plan, "s1", picks=(Picked(sheet="s1", band=4, filter="hard", seconds=8.5),))
    page = phone.look("/tests/reciprocity").words
    assert "begins from 8.5 s through hard at f/8" in page
    assert "long exposures are taken to do as much as short ones" in page
    assert send(phone, "/tests/reciprocity/begin")[0] == 303
    loaded = desk.status().plan
    assert loaded is not None
    assert (loaded.test, loaded.steps[-1].planned_ms, loaded.steps[-1].filter) == ("reciprocity", 8500, "hard")
    desk.show(bench=desk.status().bench.model_copy(update={"aperture": 11.0}))
    assert "Nothing was printed on this paper yet" in phone.look("/tests/reciprocity").words


def test_a_look_sets_the_exponent_and_can_be_taken_back(desk: StandInDesk, phone: Phone) -> None:
    """Between bands 3 and 4, 1.5 twelfths: 24/25.5 = 0.94. The paper has it, the result stands, and goes back."""
    long_exposures(desk)
    assert send(phone, "/tests/reciprocity/eye", sheet="r1", band="3 between")[0] == 303
    paper = desk.status().bench.paper
    assert desk.papers().fetch(paper).exponent == 0.941
    page = phone.look("/tests/reciprocity").words
    assert "Exponent 0.94 ± 0.01: paper one wants more in long light." in page
    assert "exponent not tested → 0.94" in page
    assert "Which band looks like" not in page
    assert "Exponent 0.94" in phone.look("/tests").words
    assert "In long exposures: exponent 0.94" in phone.look(f"/papers/{paper}").words
    last = desk.trials().last("reciprocity")
    assert last is not None
    assert last.sheets == ("r1",)
    desk.trials().take_back("reciprocity", last.id)
    assert desk.papers().fetch(paper).reciprocity is None
    assert "Which band looks like" in phone.look("/tests/reciprocity").words


def test_densities_are_taken_too(desk: StandInDesk, phone: Phone) -> None:
    """A wrong figure is told at its field, and nothing is lost or set; then 0.72 lies on the third band."""
    long_exposures(desk)
    read = {f"density_{n}": text for n, text in enumerate(("0.66", "0.69", "0.72", "0.75", "0.78", "0.81", "0.7x"), 1)}
    status, words = send(phone, "/tests/reciprocity/read", sheet="r1", **read)
    assert (status, "0.7x is no print density" in words.replace("“", "").replace("”", "")) == (422, True)
    assert desk.papers().fetch(desk.status().bench.paper).reciprocity is None
    assert send(phone, "/tests/reciprocity/read", sheet="r1", **read | {"density_7": "0,72"})[0] == 303
    assert desk.papers().fetch(desk.status().bench.paper).exponent == 0.96


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"band": ""}, "Choose a band"),
        ({"band": "lighter"}, "stopped down by more than two stops"),
        ({"band": "darker"}, "stopped down at all"),
        ({"band": "9"}, "no band 9"),
        ({"band": "1"}, "no paper is known to do"),
    ],
)
def test_a_doubtful_look_sets_nothing(desk: StandInDesk, phone: Phone, fields: dict[str, str], words: str) -> None:
    """A sentence and the way back; paper and results are as they were."""
    long_exposures(desk)
    status, said = send(phone, "/tests/reciprocity/eye", sheet="r1", **fields)
    assert status == 422
    assert words in said
    assert desk.papers().fetch(desk.status().bench.paper).reciprocity is None
    assert desk.trials().last("reciprocity") is None


def test_a_spoiled_strip_tells_nothing(desk: StandInDesk, phone: Phone) -> None:
    """Closed too soon; and one of another paper, or that has its answer, is not asked for."""
    long_exposures(desk, outcome="spoiled")
    assert "closed before all of its bands" in send(phone, "/tests/reciprocity/eye", sheet="r1", band="2")[1]
    desk.show(bench=desk.status().bench.model_copy(update={"paper": "", "paper_title": "paper two"}))
    assert "Which band looks like" not in phone.look("/tests/reciprocity").words
    assert send(phone, "/tests/reciprocity/eye", sheet="r1", band="2")[0] == 404


def test_a_paper_known_by_its_name_alone_is_carried_with_it(desk: StandInDesk, phone: Phone) -> None:
    """It is on no shelf, so the result itself is asked where a print on it is carried over."""
    desk.show(bench=AtEnlarger(paper_title="attic paper", support="RC", aperture=8.0))
    long_exposures(desk)
    assert "known by its name alone" in phone.look("/tests/reciprocity").words
    assert send(phone, "/tests/reciprocity/eye", sheet="r1", band="3")[0] == 303
    part = desk.trials().part(ReciprocityTrial)
    assert (part.exponent_of("attic paper"), part.exponent_of("paper one")) == (0.96, None)
    bare = desk.recipes().save(desk.crane.body.replace('"paper one"', '"attic paper"'))
    assert "soft: × 2.06" in phone.look(f"/carry/{bare.id}?go=1&aperture=11").words  # 2^(1/0.96)


def test_what_is_tested_stays_when_readings_are_mended(desk: StandInDesk) -> None:
    """The tablet says nothing of long light, so a paper fitted anew keeps its exponent."""
    source = desk.status().bench.paper
    desk.papers().set_reciprocity(source, Reciprocity(exponent=0.95, date=date(2026, 11, 30)))
    assert desk.papers().fetch(source).exponent == 0.95


# ---- the developer


def test_pieces_are_made_one_after_the_other(desk: StandInDesk, phone: Phone) -> None:
    """The longest first; one that came out at another time is made again; the clocks of the trays are needed."""
    assert "Make the piece of 125 s" in phone.look("/tests/developer").words
    assert send(phone, "/tests/developer/begin", seconds="125")[0] == 303
    plan = desk.status().plan
    assert plan is not None
    assert plan.develop_seconds == 125.0
    assert "loaded: work it by foot" in phone.look("/tests/developer").words
    pieces(desk, 125, 90)
    pieces(desk, 65, lay=0.5)
    page = phone.look("/tests/developer").words
    assert "Make the piece of 65 s" in page
    assert "What do they show?" not in page
    assert "45, 65" in send(phone, "/tests/developer/answer", black="90", fog="none")[1]
    desk.change_settings({"trays": "by time"})
    assert "timed by the clocks of the trays" in send(phone, "/tests/developer/begin", seconds="125")[1]


@pytest.mark.parametrize(
    ("black", "fog", "seconds", "words"),
    [
        ("125", "none", 90, "not as black as it gets"),
        ("none", "none", 90, "not as black as it gets"),
        ("90", "90", 90, "no time gives both"),
        ("", "none", 90, "Choose one"),
        ("90", "125", 90, "full black from 90 s on; grey whites from 125 s on"),
        ("65", "90", 65, "developer 90 s → 65 s"),
    ],
)
def test_what_the_pieces_show_goes_into_the_process(
    desk: StandInDesk, phone: Phone, black: str, fog: str, seconds: float, words: str
) -> None:
    """By one tap, and back by another; what is in doubt changes nothing."""
    pieces(desk, *developer.TIMES_S["RC"])
    status, said = send(phone, "/tests/developer/answer", black=black, fog=fog)
    assert words in (said if status != 303 else phone.look("/tests/developer").words)
    assert desk.trays().processes()["RC"].developer_seconds == seconds
    last = desk.trials().last("developer")
    assert (last is None) is (status != 303)
    if last is not None:
        assert "What do they show?" not in phone.look("/tests/developer").words
        desk.trials().take_back("developer", last.id)
        assert desk.trays().processes()["RC"].developer_seconds == 90


def test_another_developer_makes_it_due(desk: StandInDesk) -> None:
    """What is noted at the process is what was tested."""
    pieces(desk, *developer.TIMES_S["RC"])
    desk.trials().part(DeveloperTrial).keep(90, None)
    assert desk.trials().line("developer").due.state == "fine"
    process = desk.trays().processes()["RC"]
    desk.trays().keep_process(process.model_copy(update={"notes": "the other powder, 1 + 3"}))
    line = desk.trials().line("developer")
    assert (line.due.state, line.due.why) == ("due", "developer.since")
    assert "the other powder" in line.of_title


def test_what_cannot_be_filed_sets_nothing(desk: StandInDesk, phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full card: paper and process are as they were, and both answers can be given again."""

    def full(*_: object, **__: object) -> None:
        raise StoreTrouble("the card is full: make room")

    long_exposures(desk)
    pieces(desk, *developer.TIMES_S["RC"])
    monkeypatch.setattr(desk.trials(), "keep", full)
    assert send(phone, "/tests/reciprocity/eye", sheet="r1", band="3")[0] == 503
    assert send(phone, "/tests/developer/answer", black="65", fog="90")[0] == 503
    assert desk.papers().fetch(desk.status().bench.paper).reciprocity is None
    assert desk.trays().processes()["RC"].developer_seconds == 90
    monkeypatch.undo()
    assert send(phone, "/tests/reciprocity/eye", sheet="r1", band="3")[0] == 303
    assert send(phone, "/tests/developer/answer", black="65", fog="90")[0] == 303


# ---- the lamp


def test_the_last_lamp_check_stands_beside_the_others(desk: StandInDesk, phone: Phone) -> None:
    """As its own page has it, and due where the light is another than it was; it is not taken back here."""
    assert desk.trials().line("lamp").due.state == "never"
    line = CheckLine(wall="2026-11-03T20:00:00+00:00", level=900.0, sensor="a sensor", stops=-0.17, since="")
    desk.bench.shown = desk.bench.shown.model_copy(update={"checks": (line,)})
    lamp = desk.trials().line("lamp")
    assert (lamp.due.state, lamp.may_take_back) == ("fine", False)
    assert "a sixth of a stop weaker" in phone.look("/tests").words
    stronger = line.model_copy(update={"stops": 0.5})
    desk.bench.shown = desk.bench.shown.model_copy(update={"checks": (stronger,)})
    assert desk.trials().line("lamp").due.why == "lamp.since-stronger"
    assert "a new bulb?" in phone.look("/tests").words
    weak = line.model_copy(update={"stops": -0.5})
    desk.bench.shown = desk.bench.shown.model_copy(update={"checks": (weak,)})
    assert desk.trials().line("lamp").due.why == "lamp.since-weak"
