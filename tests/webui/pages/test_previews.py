"""See it before the paper, by a thumb without scripts: a scan, two taps, the print, 25 of it, the next sheet."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tools.densities import densities_of
from tools.hidden_papers import BOX
from tools.preview_scans import file_of, fitted_one, invented, light_through, ties_of
from tools.shelf_phone import ORIGIN, Page, Phone
from tools.stand_in_desk import StandInDesk, day_desk

from controller.backup.export import export
from controller.backup.import_ import import_
from controller.backup.registered import pictures_amiss
from controller.foot.acts import Load
from controller.negatives.sets import KIND, read_negatives, read_tree, write_negatives
from controller.paper.emulsions import densities, mixture
from controller.paper.paper import Reciprocity, Reference, Setup
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.easel_rows import SpotRead
from controller.store.entries import Photographed
from controller.store.folder import DataFolder
from controller.store.journal import Journal, Stamp
from controller.store.pictures import Pictures
from controller.store.shelf import Shelf
from controller.words import say
from hardware.clock import ManualClock

HOME = "/negatives/{}/frame/2/preview"


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[StandInDesk]:
    """A desk with paper one, read and out, and a set of two sheets of 4×5."""
    with day_desk(fitted_one()) as made:
        made.keep_pictures_in(tmp_path / "pictures")
        paper = made.papers().kept()[0]
        made.show(bench=AtEnlarger(paper=paper.id, paper_title=paper.title, support="FB"))
        yield made


@pytest.fixture
def source(desk: StandInDesk) -> str:
    """The id of the set; its frame 2 is the crane, under another title than that of any recipe."""
    frames = [{"frame": "1"}, {"frame": "2", "title": "quay"}]
    tree = {"format": "treadle/negatives/1", "set": "sheets", "date": "2026-03-01", "frame_format": "4x5"}
    return keep(desk, {**tree, "frames": frames})


def keep(desk: StandInDesk, tree: dict[str, Any]) -> str:
    made = read_tree(tree, "made")
    return desk.kept_things.save(KIND, made.set, write_negatives(made)).id


@pytest.fixture
def phone(desk: StandInDesk) -> Phone:
    return Phone(desk)


def bring(phone: Phone, source: str, content: bytes, how: str = "flatbed") -> Any:
    fields: dict[str, Any] = dict(phone.look(HOME.format(source)).typed())
    fields |= {"file": (io.BytesIO(content), "crane.tif"), "set": source, "frame": "2", "how": how}
    return phone.client.post("/negatives/scan", data=fields, headers={"Origin": ORIGIN}, buffered=True)


def crane() -> bytes:
    # as much as the test client itself keeps in memory
    return file_of(light_through("crane", 360, 450), "TIFF 16")


def tap(phone: Phone, source: str, key: str, x: float, y: float, **typed: str) -> Any:
    """Choose a tone on offer, and tap where it lies."""
    page = phone.look(f"{HOME.format(source)}?tap={key}")
    wide, high = (int(each) for each in re.search(r'type="image"[^>]*width="(\d+)" height="(\d+)"', page.text).groups())  # type: ignore[union-attr]
    at = {"at.x": str(int(x * wide)), "at.y": str(int(y * high))}
    own = {name: value for name, value in page.fields if name in ("token", "number", "run", "tone")}
    return phone.send(f"/negatives/{source}/frame/2/tie", list((own | typed | at).items()))


def tied(phone: Phone, source: str) -> None:
    """Bring the crane and tap its two tones, by a densitometer."""
    assert bring(phone, source, crane()).status_code == 303
    for tie in ties_of("crane"):
        assert tap(phone, source, "read", tie.x, tie.y, density=f"{tie.density:.2f}").status_code == 303


def picture(phone: Phone, page: Page, which: str = "print") -> np.ndarray:
    address = re.search(rf'(?:src|href)="([^"]*{which}\.preview\.png[^"]*)"', page.text)
    assert address is not None
    answer = phone.client.get(address.group(1).replace("&amp;", "&"))
    assert answer.status_code == 200, answer.text
    assert answer.headers["Content-Type"] == "image/png"
    return densities_of(answer.data)


def test_from_scan_to_print(phone: Phone, desk: StandInDesk, source: str) -> None:
    """A scan is brought, two tones are tapped with what is known of them: then the paper's own print is there."""
    page = phone.look(HOME.format(source))
    assert say("preview.what-for") in page.words
    assert "practice-scan" not in page.text
    assert bring(phone, source, crane()).location == HOME.format(source)
    page = phone.look(HOME.format(source))
    assert say("preview.offer-edge", density="0.08") in page.words
    tied(phone, source)
    page = phone.look(f"{HOME.format(source)}?soft=12.0&hard=4.4")
    assert say("preview.under", paper="paper one") in page.words
    assert say("preview.pair", soft="12.0", hard="4.4") in page.words
    assert re.search(r"± 0\.0\d off", page.words)
    shown = picture(phone, page)
    wanted = densities(mixture(fitted_one()), 12.0, 4.4, invented("crane").draw(*shown.shape))
    assert np.abs(shown - wanted).mean() < 0.02
    row = next(each.entry for each in desk.journal.rows() if isinstance(each.entry, Photographed))
    assert (row.of, row.thing) == ("frame", f"{source}:2")


@pytest.mark.parametrize("p", [1.0, 0.92])
def test_tones_read_at_the_easel_tie_it_at_every_size(phone: Phone, desk: StandInDesk, source: str, p: float) -> None:
    """Two spots read at ×4, of a paper read at ×2: it prints as at ×2 in 25/9 of the seconds.

    (5/3)² = 2.7778, log10 of it 0.4437 (the published print-size example); the spots' levels have it in them, once.
    """
    setup = Setup(magnification=2.0, aperture=8.0)
    reference = Reference(
        level=1e6, sensor="practice", gain="high", filter="soft", box=BOX.label, date=date(2026, 3, 2)
    )
    more = {"setup": setup, "reference": reference, "reciprocity": Reciprocity(exponent=p, date=date(2026, 3, 3))}
    paper = fitted_one().model_copy(update=more)
    desk.papers().keep(paper, desk.papers().kept()[0].id)
    larger = {"negative": f"{source}:2", "negative_title": "quay", "magnification": 4.0, "aperture": 8.0}
    bench = desk.status().bench.model_copy(update=larger)
    desk.show(bench=bench)
    light, dark = sorted(ties_of("crane"), key=lambda tie: -tie.density)
    for name, tie in (("highlight", light), ("shadow", dark)):
        level = 1e6 * 10.0 ** -(tie.density + 0.443697)
        values = {"gain": "high", "sensor": "practice", "dark": 60.0, "filter": "soft", "readings": "r1"}
        desk.spots.measured.append(SpotRead.model_validate({"spot": name, "level": level, "bench": bench, **values}))
    assert bring(phone, source, crane()).status_code == 303
    for name, tie in (("highlight", light), ("shadow", dark)):
        assert tap(phone, source, f"easel:{name}", tie.x, tie.y).status_code == 303
    longer = (25 / 9) ** (1 / p)
    shown = picture(phone, phone.look(f"{HOME.format(source)}?soft={12.0 * longer:.2f}&hard={4.4 * longer:.2f}"))
    wanted = densities(mixture(paper), 12.0, 4.4, invented("crane").draw(*shown.shape))
    assert np.abs(shown - wanted).mean() < 0.02


@pytest.mark.parametrize(("density", "status"), [(-0.02, 303), (-0.30, 422), (0.05, 303)])
def test_a_spot_of_clear_film_may_read_as_none(
    phone: Phone, desk: StandInDesk, source: str, density: float, status: int
) -> None:
    """A little under none is none; as thin as no film is, the page says what to measure again, and nothing is kept."""
    reference = Reference(
        level=1e6, sensor="practice", gain="high", filter="soft", box=BOX.label, date=date(2026, 3, 2)
    )
    desk.papers().keep(fitted_one().model_copy(update={"reference": reference}), desk.papers().kept()[0].id)
    bench = desk.status().bench.model_copy(update={"negative": f"{source}:2", "negative_title": "quay"})
    desk.show(bench=bench)
    for name, tone in (("highlight", 1.2), ("shadow", density)):
        values = {"gain": "high", "sensor": "practice", "dark": 60.0, "filter": "soft", "readings": "r1"}
        spot = {"spot": name, "level": 1e6 * 10.0**-tone, "bench": bench, **values}
        desk.spots.measured.append(SpotRead.model_validate(spot))
    assert bring(phone, source, crane()).status_code == 303
    answer = tap(phone, source, "easel:shadow", 0.5, 0.6)
    assert answer.status_code == status, answer.text
    if status == 422:
        assert say("easel.density", name="shadow", density=f"{density:.2f}") in Page(answer.text).words


@pytest.mark.parametrize("page", ["preview", "preview?tap=read", "areas", "areas?draw=A"])
def test_the_scan_is_seen_wherever_it_is_tapped_or_drawn_on(phone: Phone, source: str, page: str) -> None:
    """Each picture that a page of the scan shows is given, and is one."""
    assert bring(phone, source, crane()).status_code == 303
    seen = re.findall(
        r'(?:src|href)="([^"]+\.(?:jpg|png)[^"]*)"', phone.look(f"/negatives/{source}/frame/2/{page}").text
    )
    assert seen
    for address in seen:
        answer = phone.client.get(address.replace("&amp;", "&"))
        assert (answer.status_code, answer.headers["Content-Type"].partition("/")[0]) == (200, "image"), address


def test_without_a_pair_the_two_tones_say_which(phone: Phone, desk: StandInDesk, source: str) -> None:
    """With no recipe yet, the pair in hand is the one that puts the two tones where a highlight and a shadow belong."""
    tied(phone, source)
    found = re.search(r"([\d.]+) s soft, ([\d.]+) s hard", phone.look(HOME.format(source)).words)
    assert found is not None
    mix = mixture(fitted_one())
    light, dark = (densities(mix, float(found[1]), float(found[2]), tie.density) for tie in ties_of("crane"))
    assert float(light) == pytest.approx(mix.dmin + 0.08, abs=0.03)
    assert float(dark) == pytest.approx(mix.dmin + 0.92 * mix.net, abs=0.06)


def test_overlays_and_wet_are_one_tap_each(phone: Phone, desk: StandInDesk, source: str) -> None:
    """Paper white and full black are hatched, a wet print on fibre is lighter; each is a link there and back."""
    tied(phone, source)
    for name, pair in (("white", "soft=6&hard=2"), ("black", "soft=20&hard=14"), ("wet", "soft=12&hard=4.4")):
        address = f"{HOME.format(source)}?{pair}"
        plain = picture(phone, phone.look(address))
        page = phone.look(f"{address}&{name}=1")
        assert f">{say(f'preview.show-{name}')}</a>" in page.text
        assert 'aria-current="true"' in page.text
        other = picture(phone, page)
        if name == "wet":
            assert other.mean() < plain.mean() - 0.02
        else:
            changed = np.abs(other - plain) > 0.1
            mix = mixture(fitted_one())
            within = plain < mix.dmin + 0.05 if name == "white" else plain > mix.dmin + 0.94 * mix.net
            assert changed.any()
            assert within[changed].all()
    desk.show(bench=desk.status().bench.model_copy(update={"support": "RC"}))
    assert say("preview.show-wet") + "</a>" not in phone.look(address).text


def test_the_density_under_the_finger(phone: Phone, source: str) -> None:
    """A place that is asked for says its density, that of the negative there, and how far to trust it."""
    tied(phone, source)
    tone = next(tone for tone in invented("crane").tones if tone.name == "steel")
    page = phone.look(f"{HOME.format(source)}?soft=12.0&hard=4.4&x={tone.x}&y={tone.y}")
    found = re.search(r"Density ([\d.]+) there, ± ([\d.]+), from ([\d.]+) of the negative", page.words)
    assert found is not None
    assert float(found[3]) == pytest.approx(tone.density, abs=0.03)
    assert float(found[1]) == pytest.approx(float(densities(mixture(fitted_one()), 12.0, 4.4, tone.density)), abs=0.06)


def test_a_grid_is_tapped_for_another_pair(phone: Phone, source: str) -> None:
    """25 links lie on one picture, a third of a stop apart; one leads to its print."""
    tied(phone, source)
    page = phone.look(f"{HOME.format(source)}?soft=12.0&hard=4.4&grid=1")
    cells = [link for link in page.links if "soft=" in link and "preview?" in link]
    pairs = {tuple(re.findall(r"(?:soft|hard)=([\d.]+)", link)) for link in cells}
    assert len(pairs) == 25
    assert {("9.5", "3.5"), ("12.0", "4.4"), ("19.0", "7.0")} <= pairs
    shown = picture(phone, page, "grid")
    assert shown.shape == (5 * 160, 5 * 200)
    taken = phone.look(next(link for link in cells if "soft=15.1&hard=5.5" in link))
    assert say("preview.pair", soft="15.1", hard="5.5") in taken.words


def take(phone: Phone, page: Page, source: str) -> Any:
    own = {name: value for name, value in page.fields if name in ("token", "number", "run", "once", "soft", "hard")}
    return phone.send(f"/negatives/{source}/frame/2/take", list(own.items()))


def test_the_pair_is_the_next_sheet_s_by_one_tap(phone: Phone, desk: StandInDesk, source: str) -> None:
    """Without a recipe one is made of the pair, with what stands at the enlarger, and loaded."""
    tied(phone, source)
    desk.show(bench=desk.status().bench.model_copy(update={"negative": f"{source}:2", "negative_title": "crane"}))
    assert take(phone, phone.look(f"{HOME.format(source)}?soft=12.0&hard=4.4"), source).location == "/"
    act, _ = desk.acts[-1]
    assert isinstance(act, Load)
    made = desk.recipes().recipe(act.source, act.version)
    assert [(light.filter, float(light.seconds)) for light in made.light] == [("soft", 12.0), ("hard", 4.4)]
    assert made.paper is not None
    assert (made.title, made.paper.name, made.paper.support) == ("quay", "paper one", "FB")


def test_a_recipe_s_pair_is_in_hand_and_is_changed(phone: Phone, desk: StandInDesk, source: str) -> None:
    """The pair of the negative's own recipe is in hand; another is its next version, burns and dodges as they were."""
    tied(phone, source)
    desk.negatives().write(source, "2", "harbour crane", "")
    page = phone.look(HOME.format(source))
    assert say("preview.pair", soft="10.1", hard="8.0") in page.words
    assert say("preview.not-drawn", areas="A, C, B") in page.words
    desk.show(bench=desk.status().bench.model_copy(update={"magnification": 2.0, "aperture": 8.0}))
    assert take(phone, phone.look(f"{HOME.format(source)}?soft=12.8&hard=7.5"), source).location == "/"
    act, _ = desk.acts[-1]
    assert isinstance(act, Load)
    assert (act.source, act.version) == (desk.crane.id, 2)
    assert len(desk.recipes().recipe(act.source).local) == 3
    assert take(phone, phone.look(HOME.format(source)), source).location == "/"
    assert desk.recipes().fetch(desk.crane.id).version == 2, "the same pair is no new version"


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "Choose a scan"), (b"none", "no picture"), (file_of(np.full((40, 300), 0.5), "PNG 16"), "too small")],
)
def test_a_file_that_is_no_scan_is_refused(
    content: bytes, words: str, phone: Phone, desk: StandInDesk, source: str, tmp_path: Path
) -> None:
    """A sentence stands beside the field, and nothing is kept."""
    answer = bring(phone, source, content)
    assert answer.status_code == 422
    assert words in Page(answer.text).told()["file"]
    assert read_negatives(desk.kept_things.get(source).body, "kept").frame("2").scan is None
    assert not list((tmp_path / "pictures").glob("*/*"))


def test_taps_that_tie_nothing_say_so(phone: Phone, source: str) -> None:
    """No density typed, or two that are alike: the page says what to do, and the first tap stays."""
    assert bring(phone, source, crane()).status_code == 303
    answer = tap(phone, source, "read", 0.5, 0.22)
    assert answer.status_code == 422
    assert say("preview.density-typed") in Page(answer.text).told().values()
    assert tap(phone, source, "read", 0.5, 0.22, density="1.25").status_code == 303
    assert tap(phone, source, "read", 0.5, 0.3, density="1.22").status_code == 303
    assert "nearly one density" in phone.look(HOME.format(source)).words
    assert tap(phone, source, "edge", 0.52, 0.635).status_code == 303
    assert "print.preview.png" in phone.look(HOME.format(source)).text


def test_a_typical_paper_is_tied_by_picks_alone(phone: Phone, desk: StandInDesk, source: str) -> None:
    """Without a paper that was read, densities tie nothing, for nobody knows how fast it is; the page says so."""
    tied(phone, source)
    desk.show(bench=AtEnlarger())
    page = phone.look(HOME.format(source))
    assert say("preview.typical-picks") in page.words
    assert "preview.png" not in page.text


def test_everything_is_refused_in_the_dark(phone: Phone, desk: StandInDesk, source: str) -> None:
    """No page and no picture of a preview is shown while the day face is away."""
    tied(phone, source)
    desk.show(day_until_ns=None)
    for address in (HOME.format(source), f"/negatives/{source}/frame/2/print.preview.png?soft=12&hard=4"):
        assert phone.client.get(address).status_code == 409


def test_forgotten_tones_are_asked_for_again(phone: Phone, source: str) -> None:
    """One button takes both tones away; the scan stays."""
    tied(phone, source)
    page = phone.look(HOME.format(source))
    own = [(name, value) for name, value in page.fields if name in ("token", "number", "run")]
    assert phone.send(f"/negatives/{source}/frame/2/forget", list(dict(own).items())).status_code == 303
    assert say("preview.first-tone") in phone.look(HOME.format(source)).words


def test_a_scan_and_its_tones_come_through_an_export(
    phone: Phone, desk: StandInDesk, source: str, tmp_path: Path
) -> None:
    """Exported and imported elsewhere the same print is there; where its picture is lost the check says so."""
    tied(phone, source)
    pair = "?soft=12.0&hard=4.4"
    here, there = DataFolder(tmp_path / "here"), DataFolder(tmp_path / "there")
    with Shelf.open(here.shelf) as shelf, Journal.open(here.journal, ManualClock(), Stamp("boot", "0", 1)):
        shelf.take_in(*desk.kept_things.everything())
    wanted = picture(phone, phone.look(HOME.format(source) + pair))
    (tmp_path / "pictures").rename(here.pictures)
    import_(export(here, tmp_path / "out"), there)
    with day_desk() as other, Shelf.open(there.shelf) as shelf:
        other.kept_things.take_in(*shelf.everything())
        other.keep_pictures_in(there.pictures)
        other.show(bench=desk.status().bench)
        phone_there = Phone(other)
        assert np.array_equal(picture(phone_there, phone_there.look(HOME.format(source) + pair)), wanted)
        assert list(pictures_amiss(shelf, Pictures(there.pictures))) == []
        for file in there.pictures.glob("*/*.jpg"):
            file.unlink()
        assert len(list(pictures_amiss(shelf, Pictures(there.pictures)))) == 1
        assert say("store.picture-gone") in phone_there.look(HOME.format(source)).words


def test_a_practice_negative_scans_itself_and_is_read_by_one_tap(tmp_path: Path) -> None:
    """In the practice darkroom nothing is brought and nothing typed: a button, and two taps on the scan."""
    desk = StandInDesk(practice=True)
    desk.papers().keep(fitted_one())
    desk.keep_pictures_in(tmp_path / "pictures")
    desk.say_day()
    desk.show(bench=AtEnlarger(paper_title="paper one", support="RC"))
    desk.recipes().stock()
    frames = [{"frame": "1"}, {"frame": "2", "title": "boat slip"}]
    tree = {"format": "treadle/negatives/1", "set": "sheets", "date": "2026-03-01", "frame_format": "4x5"}
    made = read_tree({**tree, "frames": frames}, "made")
    kept = desk.kept_things.save(KIND, made.set, write_negatives(made))
    desk.kept_things.take_in([kept.model_copy(update={"id": "practice-sheets", "version": 1})])
    phone, home = Phone(desk), HOME.format("practice-sheets")
    page = phone.look(home)
    assert say("preview.scan-practice") in page.words
    own = [(name, value) for name, value in page.fields if name in ("token", "number", "run")]
    address = "/negatives/practice-sheets/frame/2/practice-scan"
    assert phone.send(address, list(dict(own).items())).location == home
    for tie in ties_of("slip"):
        assert 'name="density"' not in phone.look(f"{home}?tap=read").text
        assert tap(phone, "practice-sheets", "read", tie.x, tie.y).status_code == 303
    tones = desk.negatives().fetch("practice-sheets").negatives.frame("2").scan
    assert tones is not None
    assert [float(each.density or 0) for each in tones.tones] == [tie.density for tie in ties_of("slip")]
    shown = picture(phone, phone.look(f"{home}?soft=12.0&hard=4.4"))
    wanted = densities(mixture(fitted_one()), 12.0, 4.4, invented("slip").draw(*shown.shape))
    assert np.abs(shown - wanted).mean() < 0.02
    assert phone.send("/negatives/practice-sheets/frame/9/practice-scan", list(dict(own).items())).status_code == 404
