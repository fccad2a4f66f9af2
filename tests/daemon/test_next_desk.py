"""What next, from the carrier to the reference print: a whole darkroom in virtual time, one tap at a time."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from tools.virtual_darkroom import VirtualDarkroom, virtual_darkroom

from controller.daemon.negative_lists import Life, NegativeLists
from controller.daemon.offers import Next
from controller.enlarger.enlargers import ProofStandard
from controller.errors import Impossible, WrongMoment
from controller.foot import acts
from controller.recipe.strip import StopTimes
from controller.store.archive import Archive

CARRIER = {"negative": "practice-film:1", "negative_title": "lighthouse", "negative_format": "24x36"}


@pytest.fixture
def room(tmp_path: Path) -> Iterator[VirtualDarkroom]:
    with virtual_darkroom(tmp_path / "one") as made:
        made.desk.at_enlarger().change(made.status().number, **CARRIER)
        yield made


def offer(room: VirtualDarkroom) -> Next | None:
    return room.desk.next().offer(room.status())


def kind(room: VirtualDarkroom) -> str:
    found = offer(room)
    return found.offer.kind if found is not None else ""


def take(room: VirtualDarkroom) -> None:
    found = offer(room)
    assert found is not None
    room.desk.do(acts.TakeOffer(offer=found.key), room.status().number)


def refuse(room: VirtualDarkroom) -> None:
    found = offer(room)
    assert found is not None
    room.desk.do(acts.RefuseOffer(offer=found.key), room.status().number)


def work(room: VirtualDarkroom) -> None:
    """Give every light of what is loaded, and close the sheet."""
    for _ in range(60):
        if room.status().place == "finished":
            break
        room.press()
        room.run(40_000)
    assert room.status().place == "finished", room.status().place
    room.press(1000)
    room.run(12_000)
    assert not room.status().open


def pick(room: VirtualDarkroom, band: int, *, go_on: bool = False, recipe: str = "") -> None:
    sheet = room.status().closed_sheet
    room.desk.do(acts.Pick(sheet=sheet, band=band, go_on=go_on, recipe=recipe), room.status().number)


def look(room: VirtualDarkroom, light: int, dark: int) -> None:
    room.desk.do(acts.Looked(sheet=room.status().closed_sheet, light=light, dark=dark), room.status().number)


def test_each_step_leads_to_the_next(room: VirtualDarkroom) -> None:
    """First strip, pick, hard strip, pick, print, look, print again, right: the reference print, an edition."""
    assert kind(room) == "first strip"
    take(room)
    assert room.status().plan is not None
    assert kind(room) == "", "what is loaded is not offered as well"
    work(room)
    assert room.status().plan is None, "the same strip does not stand ready again"
    assert kind(room) == "pick"
    strip = room.status().closed_sheet
    pick(room, 3, go_on=True)
    soft = room.desk.record(strip).picks[-1]
    assert soft.seconds == 12.0
    assert room.status().plan is not None
    assert room.status().plan.strip is not None
    assert room.status().plan.strip.template == "hard over soft"
    work(room)
    hard = room.desk.record(room.status().closed_sheet)
    assert room.desk.next().base_of(hard) == soft.recipe
    pick(room, 5, go_on=True, recipe=soft.recipe)
    plan = room.status().plan
    assert plan is not None
    assert plan.source == soft.recipe
    assert [(step.filter, step.planned_ms) for step in plan.steps] == [("soft", 12_000), ("hard", 8_000)]
    work(room)
    assert kind(room) == "look"
    look(room, -1, 0)
    again = offer(room)
    assert again is None or again.offer.kind != "look"
    plan = room.status().plan
    assert plan is not None
    assert plan.version > room.desk.record(hard.id).picks[-1].recipe_version, "the new times are the next sheet's"
    work(room)
    look(room, 0, 0)
    assert kind(room) == "keep"
    take(room)
    right = room.status().closed_sheet
    assert room.desk.record(right).reference
    for _ in range(2):
        assert kind(room) == "burn strip"
        refuse(room)
    found = offer(room)
    assert found is not None
    assert (found.offer.kind, found.page) == ("edition", f"/editions/new?sheet={right}")
    room.desk.do(acts.PaperAway(), room.status().number)
    room.desk.editions().begin(right, 5, 0)
    assert kind(room) == "another size"


@pytest.mark.parametrize(("callier", "stops"), [(None, 0.83), (1.3, 1.25)])
def test_a_condenser_s_first_strip_is_longer_though_nobody_said_its_factor(
    room: VirtualDarkroom, callier: float | None, stops: float
) -> None:
    """It counts as the usual one of 1.2 until its own is typed, as on the page that finds soft and hard: +0.83 stop."""

    def centre() -> float:
        found = offer(room)
        assert found is not None
        assert found.offer.kind == "first strip"
        assert found.offer.strip is not None
        assert isinstance(found.offer.strip.times, StopTimes)
        return float(found.offer.strip.times.centre)

    shelf, source = room.desk.at_enlarger().enlargers(), room.status().bench.enlarger
    proof = ProofStandard(
        seconds=Decimal(10),
        filter="2",
        magnification=Decimal(2),
        aperture=Decimal(8),
        paper="paper one",
        date=date(2026, 3, 1),
    )
    shelf.keep(shelf.fetch(source).model_copy(update={"proof": proof, "light_source": "diffuser"}), source)
    room.desk.at_enlarger().change(room.status().number, magnification=2.0, aperture=8.0, head_height_mm=None)
    before = centre()
    told = {"light_source": "condenser", "callier": None if callier is None else Decimal(str(callier))}
    shelf.keep(shelf.fetch(source).model_copy(update=told), source)
    assert math.log2(centre() / before) == pytest.approx(stops, abs=0.02)


def test_what_is_refused_stays_away_until_more_has_happened(room: VirtualDarkroom) -> None:
    """Something else is offered each time; a sheet brings the first thing back."""
    seen = []
    while (found := offer(room)) is not None:
        seen.append(found.offer.kind)
        room.desk.do(acts.RefuseOffer(offer=found.key), room.status().number)
    assert seen == ["first strip", "proof strip"]
    with pytest.raises(WrongMoment):
        room.desk.do(acts.TakeOffer(offer="gone"), room.status().number)


def test_a_proof_s_pick_becomes_the_standard(room: VirtualDarkroom) -> None:
    """The standard is kept with the enlarger by one tap; from then on the first strip begins where it says."""
    first = offer(room)
    assert first is not None
    room.desk.do(acts.RefuseOffer(offer=first.key), room.status().number)
    assert kind(room) == "proof strip"
    take(room)
    work(room)
    pick(room, 5)
    assert kind(room) == "standard"
    take(room)
    bench = room.desk.at_enlarger().standing()
    kept = room.desk.at_enlarger().enlargers().fetch(bench.enlarger).proof
    assert kept is not None
    assert float(kept.seconds) == 15.0
    assert (kept.paper, float(kept.aperture)) == ("paper one", 8.0)
    found = offer(room)
    assert found is not None
    assert found.offer.kind == "first strip"
    strip = found.offer.strip
    assert strip is not None
    assert strip.times.kind == "stops"
    assert float(strip.times.centre) == 15.0, "at the proof's own height and aperture it begins at the proof's time"
    at = room.desk.at_enlarger()
    at.change(room.status().number, magnification=4.0, head_height_mm=None)
    moved = offer(room)
    assert moved is not None
    assert moved.offer.strip is not None
    assert moved.offer.strip.times.kind == "stops"
    # published print-size example: m 2 to 4 is 2.778 times as long
    assert float(moved.offer.strip.times.centre) == pytest.approx(15.0 * 2.778, abs=0.1)


def test_a_standard_needs_its_set_up(room: VirtualDarkroom) -> None:
    """Without an enlarger nothing can keep it: a sentence, and nothing is kept."""
    first = offer(room)
    assert first is not None
    room.desk.do(acts.RefuseOffer(offer=first.key), room.status().number)
    room.desk.at_enlarger().change(room.status().number, enlarger="", enlarger_title="")
    take(room)
    work(room)
    pick(room, 5)
    with pytest.raises(Impossible, match="proof standard needs"):
        take(room)


def test_with_nothing_new_nothing_is_thought_out_again(room: VirtualDarkroom, monkeypatch: pytest.MonkeyPatch) -> None:
    """A repaint reads no sheet; a pick, another standing and what is refused each make it think anew."""
    take(room)
    work(room)
    asked: list[str] = []
    looked_up = Archive.record
    monkeypatch.setattr(Archive, "record", lambda self, sheet: (asked.append(sheet), looked_up(self, sheet))[1])
    first = offer(room)
    assert first is not None
    assert asked
    asked.clear()
    assert [offer(room) for _ in range(5)] == [first] * 5
    assert asked == []
    room.desk.do(acts.RefuseOffer(offer=first.key), room.status().number)
    assert kind(room) == "wider strip"
    pick(room, 3)
    assert kind(room) == "hard strip"
    room.desk.at_enlarger().change(room.status().number, negative="practice-film:2", negative_title="old pier")
    assert kind(room) == "first strip"


def test_an_offer_is_not_kept_while_its_sheets_are_not_all_followed(
    room: VirtualDarkroom, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the lookups are behind an offer may lack sheets: it is right as soon as they have followed."""
    take(room)
    work(room)
    life = NegativeLists.life
    monkeypatch.setattr(NegativeLists, "life", lambda *_: Life(behind=True))
    assert kind(room) == "first strip"
    monkeypatch.setattr(NegativeLists, "life", life)
    assert kind(room) == "pick"


class Probe:
    """Readings at the easel as the offer sees them, set by hand."""

    def __init__(self) -> None:
        self.ready, self.read = True, False
        self.made: tuple[str, int] | None = None

    def answers(self) -> bool:
        return self.ready

    def can_measure(self) -> bool:
        return self.ready

    def measured(self) -> bool:
        return self.read

    def taken(self) -> tuple[str, int] | None:
        return self.made


def test_with_a_probe_the_negative_is_read_then_used(room: VirtualDarkroom) -> None:
    """Readings first, on their own page; measured, what they come to; made the next sheet, nothing more is offered."""
    probe = Probe()
    room.desk.next()._easel = probe
    found = offer(room)
    assert found is not None
    assert (found.offer.kind, found.page) == ("readings", "/easel")
    probe.read = True
    room.desk.do(acts.RefuseOffer(offer=found.key), room.status().number)
    assert kind(room) == "use readings"
    probe.ready = False
    assert kind(room) == "use readings", "what was measured stays when the probe goes"
    kept = room.desk.recipes().kept("recipe")[0]
    probe.made = kept.id, kept.version
    room.desk.do(acts.Load(source=kept.id, version=kept.version), room.status().number)
    assert kind(room) == "", "its sheet stands ready"
