"""The pages of the safelight's and the phone's test: grey, sheet, answers; what they set, and what they refuse."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from tools.shelf_phone import Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.daemon.fog_trials import FogTrials
from controller.foot.status import Status
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.trial_rows import Waited
from controller.trials.safelight import WAITS_S, grey_plan, sheet_plan

PAPER = AtEnlarger(paper="p1", paper_title="paper one", box="12")
SAME = {"before": "7", "after": "7", "alone": "7"}


@pytest.fixture
def desk() -> Iterator[StandInDesk]:
    with day_desk() as made:
        made.show(bench=PAPER)
        yield made


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def send(phone: Phone, to: str, **fields: str) -> tuple[int, str]:
    """Send one of a page's forms, signed as the page has it; return the status and the words of the answer."""
    page = phone.look("/tests/" + to.split("/")[2])
    signed = [pair for pair in page.fields if pair[0] in ("token", "number", "run")][:3]
    answer = phone.send(to, [*signed, *fields.items()])
    return answer.status_code, Page(answer.text).words


def grey(desk: StandInDesk) -> None:
    """Have the grey known on the paper that is out: the third band, 0.30."""
    desk.work_plan(grey_plan("soft", 600_000).standing(PAPER), "g1")
    desk.trials().part(FogTrials).keep_grey(3, 0.30)


def worked(desk: StandInDesk, glow: str, sheet: str, level: int = 0, late_s: int = 5) -> None:
    """Have a test's sheet worked: three waits, the card moved so many seconds after each sound."""
    plan = sheet_plan(glow, "soft", 1400, level).standing(PAPER)  # type: ignore[arg-type]
    record = desk.work_plan(plan, sheet)
    ends, waits = 0, []
    for number, seconds in enumerate(WAITS_S, 1):
        ends += (seconds + (late_s if number > 1 else 0)) * 1_000_000_000
        waits.append(Waited(sheet=sheet, step=2, wait=number, until_ns=ends, ms=seconds * 1000))
    last = record.steps[-1].model_copy(update={"waits": tuple(waits)})
    desk.records[sheet] = record.model_copy(update={"steps": (*record.steps[:-1], last)})


def test_the_grey_comes_first(desk: StandInDesk, phone: Phone) -> None:
    """Its strip is loaded by one tap; without a grey there is no sheet; then its band is said, and how dark it is."""
    assert "Begin the grey strip" in phone.look("/tests/safelight").words
    assert send(phone, "/tests/safelight/begin") == (422, send(phone, "/tests/safelight/begin")[1])
    assert "Make the grey strip first" in send(phone, "/tests/safelight/begin")[1]
    assert send(phone, "/tests/safelight/grey")[0] == 303
    plan = desk.status().plan
    assert plan is not None
    assert plan.test == "grey"
    desk.work_plan(grey_plan("soft", 600_000).standing(PAPER), "g1")
    assert send(phone, "/tests/safelight/band", band="3", tone="0.30")[0] == 303
    assert "1.9 s give a grey of 0.30 on paper one" in phone.look("/tests/safelight").words
    desk.show(bench=PAPER.model_copy(update={"box": "13"}))
    assert "Begin the safelight test" not in phone.look("/tests/safelight").words


@pytest.mark.parametrize(("tone", "words"), [("0.15", "too light"), ("0.60", "too dark"), ("", "how dark the band is")])
def test_a_grey_out_of_limits_is_refused_with_the_way_back(
    desk: StandInDesk, phone: Phone, tone: str, words: str
) -> None:
    """The sentence stands on the page, the strip can be said otherwise, and nothing was kept."""
    desk.work_plan(grey_plan("soft", 600_000).standing(PAPER), "g1")
    status, said = send(phone, "/tests/safelight/band", band="2", tone=tone)
    assert status == 422
    assert words in said
    assert desk.trials().grey("p1") is None
    assert "Which band of the strip" in phone.look("/tests/safelight").words


def test_a_safelight_sheet_sets_the_safe_minutes(desk: StandInDesk, phone: Phone) -> None:
    """K-4's example C: up to 7 minutes before, up to 3 after, so 3 in all; taken back, it is as it was."""
    grey(desk)
    assert send(phone, "/tests/safelight/begin")[0] == 303
    plan = desk.status().plan
    assert plan is not None
    assert [wait.glow for wait in plan.steps[1].waits] == ["safelight"] * 3
    worked(desk, "safelight", "s1")
    assert send(phone, "/tests/safelight/answer", before="7", after="3", alone="7")[0] == 303
    assert desk.settings().safe_minutes == 3.0
    words = phone.look("/tests/safelight").words
    assert "no more than 3 min" in words
    assert "safe minutes 0 → 3" in words
    last = desk.trials().last("safelight")
    assert last is not None
    assert (last.of, last.sheets) == ("p1", ("s1",))
    assert "What the sheet shows" not in words
    desk.trials().take_back("safelight", last.id)
    assert desk.settings().safe_minutes == 0.0
    assert "What the sheet shows" in phone.look("/tests/safelight").words


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (SAME | {"after": "mixed"}, "another order"),
        (SAME | {"alone": "1"}, "cannot be fogged sooner"),
        (SAME | {"before": ""}, "Say what this strip shows"),
    ],
)
def test_an_answer_in_doubt_sets_nothing(desk: StandInDesk, phone: Phone, answers: dict[str, str], words: str) -> None:
    """A sentence beside its question, the other answers still there, and neither setting nor result."""
    grey(desk)
    worked(desk, "safelight", "s1")
    status, said = send(phone, "/tests/safelight/answer", **answers)
    assert status == 422
    assert words in said
    assert desk.settings().safe_minutes == 0.0
    assert desk.trials().last("safelight") is None
    assert "What the sheet shows" in said


def test_a_sheet_whose_waits_were_not_whole_sets_nothing(desk: StandInDesk, phone: Phone) -> None:
    """The card moved too late, a wait missing, or a light that failed: a sentence each."""
    grey(desk)
    worked(desk, "safelight", "s1", late_s=70)
    assert "quarters had other times" in send(phone, "/tests/safelight/answer", **SAME)[1]
    record = desk.records["s1"]
    last = record.steps[-1].model_copy(update={"waits": record.steps[-1].waits[:2]})
    desk.records["s1"] = record.model_copy(update={"steps": (record.steps[0], last)})
    assert "were not all made" in send(phone, "/tests/safelight/answer", **SAME)[1]
    desk.records["s1"] = record.model_copy(update={"outcome": "spoiled"})
    assert "did not get all its light" in send(phone, "/tests/safelight/answer", **SAME)[1]
    assert desk.settings().safe_minutes == 0.0


def test_a_phone_is_tested_at_the_red_it_stands_at(desk: StandInDesk, phone: Phone) -> None:
    """The level chosen becomes this phone's with the sheet's beginning; what it passes is what its page asks for."""
    grey(desk)
    desk.change_settings({"safe_minutes": 7.0})
    assert send(phone, "/tests/phone/begin", level="9")[0] == 422
    assert send(phone, "/tests/phone/begin", level="3")[0] == 303
    assert 'data-red="3"' in phone.look("/tests/phone").text
    plan = desk.status().plan
    assert plan is not None
    assert {(wait.glow, wait.level) for wait in plan.steps[1].waits} == {("phone", 3)}
    worked(desk, "phone", "s1", level=3)
    assert send(phone, "/tests/phone/answer", before="3", after="3", alone="7")[0] == 303
    mark = desk.phones().listed()[0].mark
    tested = desk.phones().fog_test(mark)
    assert tested is not None
    assert (tested.level, tested.paper) == (3, "paper one")
    assert desk.settings().safe_minutes == 3.0
    assert "is tested up to level 3 (paper one" in phone.look("/phone").words
    line = next(line for line in desk.trials().lines({"phone": (mark, "")}) if line.trial == "phone")
    assert line.last is not None
    phone.send("/phone/red", [*phone.look("/phone").fields[:3], ("level", "5"), ("sure", "1")])
    assert "brighter level than the tested one" in phone.look("/tests").words
    desk.trials().take_back("phone", line.last.id, mark)
    assert desk.phones().fog_test(mark) is None
    assert desk.settings().safe_minutes == 7.0


def test_a_phone_that_fogs_is_turned_down(desk: StandInDesk, phone: Phone) -> None:
    """Nothing is set, the sentence says so, and its page is as dark as it was tested for."""
    grey(desk)
    send(phone, "/tests/phone/begin", level="5")
    worked(desk, "phone", "s1", level=5)
    assert send(phone, "/tests/phone/answer", before="0", after="0", alone="1")[0] == 303
    page = phone.look("/tests/phone")
    assert "fogs paper within a minute" in page.words
    assert 'data-red="1"' in page.text
    assert desk.settings().safe_minutes == 0.0
    assert desk.phones().fog_test(desk.phones().listed()[0].mark) is None


def test_the_smaller_of_safelight_and_phone_counts(desk: StandInDesk, phone: Phone) -> None:
    """Whichever is tested last: paper lies beside both."""
    grey(desk)
    worked(desk, "phone", "s1", level=2)
    send(phone, "/tests/phone/answer", before="1", after="3", alone="3")
    assert desk.settings().safe_minutes == 1.0
    worked(desk, "safelight", "s2")
    send(phone, "/tests/safelight/answer", **SAME)
    assert desk.settings().safe_minutes == 1.0
    assert isinstance(desk.status(), Status)
