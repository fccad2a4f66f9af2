"""Every form of file that is read: good ones of it, how a dice spoils one, and how a spoilt one is read."""

from __future__ import annotations

import io
import json
import random
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from controller.backup.dated import restore
from controller.backup.export import export
from controller.backup.import_ import import_
from controller.commands.replay import play_recipe
from controller.commands.wiring_page import example
from controller.daemon.phones import Phones
from controller.editions.ledger import EDITION, read_edition, write_edition
from controller.enlarger.enlargers import read_enlarger, write_enlarger
from controller.negatives.layouts import LAYOUTS
from controller.negatives.sets import read_negatives, write_negatives
from controller.paper.filter_readings import read_filter_csv
from controller.paper.paper import read_paper, write_paper
from controller.paper.readings import read_csv
from controller.picture.own import own_negative
from controller.practice.practice_scene import PracticeScene, keep_scene, read_scene
from controller.recipe.files import read_feet, read_recipe, write
from controller.recipe.foot_trace import FeetTrace
from controller.store.folder import DataFolder
from controller.store.settings import Settings, read_settings, timing, write_settings
from controller.trays.ledger import BathRules, read_rules, write_rules
from controller.trays.process import USUAL, read_process, write_process
from controller.unpack.greys import Fit, read_greys
from hardware.fitting import WIRING_NAME, read_body, read_fitting
from hardware.open_lines import read_spec
from hardware.practice.bulb import read_bulb
from hardware.wiring import read_wiring
from tools.damaged_stores import evening, rows_in
from tools.hostile import hurt_bytes, hurt_tree, pictures, written
from tools.negatives import tree as set_tree

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES, SAMPLES = ROOT / "tests" / "examples", ROOT / "controller" / "samples"
PAPER = ROOT / "tests" / "paper" / "examples" / "paper-1.paper.json"
TABLE = "paper,soft_seconds,hard_seconds,step,tablet_density,print_density\n"
FILTERS = "paper,filter,seconds,step,tablet_density,print_density\n"
STEPS = [(step, 0.05 + 0.15 * (step - 1), max(0.05, 2.1 - 0.1 * step)) for step in range(1, 22)]
FIT = Fit(9_000_000, 20_000)
WIRINGS = (
    *("lamp = " + "9" * 5000, "lamp = " + "[" * 5000, "a." * 7000 + "b=1", "lamp=1979-05-27", "[lamp]\npin = true"),
    *("[lamp]\npin = 17.0", "filters=[]\n[lamp]\npin=17\n[foot]\npin=2", "lamp = {pin = 17}\nfoot = 3", "[lamp\n"),
)


@dataclass(frozen=True)
class Form:
    """A form of file: how a spoilt one is made by a dice, and how it is read."""

    name: str
    spoilt: Callable[[random.Random], bytes]
    read: Callable[[bytes], object]
    share: int = 10


class Kept:
    """A data folder that is to stay as it is, whatever is brought to it and refused."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.closed, _, self.backup = evening(folder / "evening")
        self.exported = export(self.closed, folder / "exported")
        self.stored: list[str] = []
        """What was stored of a file that was refused."""

    def bring(self, source: Path, into: Callable[[DataFolder], object]) -> None:
        """Bring something to a new folder, and see whether of a refused one anything is in it."""
        with tempfile.TemporaryDirectory(dir=self.folder) as at:
            data = DataFolder(Path(at) / "data")
            try:
                into(data)
            except BaseException:
                if any(rows_in(data.path).values()):
                    self.stored.append(f"{source.name}: {rows_in(data.path)}")
                raise

    def one(self, content: bytes) -> None:
        """Import one file."""
        source = self.folder / "brought.json"
        source.write_bytes(content)
        self.bring(source, lambda data: import_(source, data))

    def many(self, whole: Path, content: bytes, into: Callable[[Path, DataFolder], object]) -> None:
        """Import or restore a folder one of whose files is spoilt; the first line of `content` is its name."""
        name, _, body = content.partition(b"\n")
        with tempfile.TemporaryDirectory(dir=self.folder) as at:
            source = Path(at) / "source"
            shutil.copytree(whole, source)
            (source / name.decode()).write_bytes(body)
            self.bring(source, lambda data: into(source, data))

    def spoil_one_of(self, whole: Path, dice: random.Random) -> bytes:
        """Return the name of one file of a folder, and its content with something wrong in it."""
        files = sorted(path for path in whole.rglob("*") if path.is_file())
        weighty = [
            path for path in files if path.suffix in (".jsonl", ".db") or path.name in ("export.json", "manifest.json")
        ]
        path = dice.choice(weighty if weighty and dice.random() < 0.6 else files)
        body = path.read_bytes()
        if path.suffix == ".jsonl" and dice.random() < 0.7:
            lines = body.splitlines()
            at = dice.randrange(len(lines))
            roll = dice.random()
            if roll < 0.7:
                lines[at] = written(hurt_tree(json.loads(lines[at]), dice), dice).replace(b"\n", b" ")
            elif roll < 0.85:
                del lines[at]
            else:
                lines.insert(at, lines[dice.randrange(len(lines))])
            body = b"".join(line + b"\n" for line in lines)
        elif path.suffix == ".json" and dice.random() < 0.7:
            body = written(hurt_tree(json.loads(body), dice), dice)
        else:
            body = hurt_bytes(body, dice)
        return path.relative_to(whole).as_posix().encode() + b"\n" + body


def forms(kept: Kept) -> list[Form]:
    """Return every form there is."""
    recipes = [
        json.loads(p.read_bytes())
        for p in (*SAMPLES.glob("*.recipe.json"), *SAMPLES.glob("*.strip.json"), *_of("recipe"), *_of("strip"))
    ]
    feet = [json.loads(path.read_bytes()) for path in _of("feet")]
    enlarger = json.loads((ROOT / "tests" / "enlarger" / "attic.enlarger.json").read_bytes())
    paper, settings = json.loads(PAPER.read_bytes()), json.loads(write_settings(Settings()))
    processes = [json.loads(write_process(one)) for one in USUAL.values()]
    rules = json.loads(write_rules(BathRules()))
    negatives = [set_tree(number, one.format) for number, one in enumerate(LAYOUTS)]
    read = {"at": [0.25, 0.5], "what": "read", "density": 1.25}
    picked = {"at": [0.75, 0.5], "what": "dark", "sheet": "s1"}
    negatives[0]["frames"][0]["scan"] = {"photograph": "0" * 64, "how": "light table", "tones": [read, picked]}
    good_feet = [read_feet(json.dumps(tree), "good") for tree in feet]
    kept_one = {"sheet": "s1", "outcome": "keep", "number": 1, "spread_stops": 0.042}
    rejected = {"sheet": "s2", "outcome": "reject", "number": None, "spread_stops": None}
    terms = {"format": EDITION, "recipe": "crane", "version": 1, "size": 5, "proofs": 1}
    edition = terms | {"title": "Crane", "reference": "s1", "chemistry": 4.2, "sheets": [kept_one, rejected]}
    images, scene = pictures(), kept.folder / "scene"
    keep_scene(scene, PracticeScene())
    (scene_file,) = scene.iterdir()

    def tree(*good: object) -> Callable[[random.Random], bytes]:
        return lambda dice: written(hurt_tree(dice.choice(good), dice), dice)

    def plain(*good: bytes) -> Callable[[random.Random], bytes]:
        return lambda dice: hurt_bytes(dice.choice(good), dice)

    def placed(name: str, read: Callable[[Path], object]) -> Callable[[bytes], object]:
        def put(content: bytes) -> object:
            place = kept.folder / "placed"
            place.mkdir(exist_ok=True)
            (place / name).write_bytes(content)
            return read(place)

        return put

    tables = [head + "".join(f"P,{a},{s},{x:.2f},{y:.2f}\n" for s, x, y in STEPS) for head, a in _HEADS]
    wiring = plain(example().encode(), _fitted(example()).encode(), *(each.encode() for each in WIRINGS))
    bulb = {"model": {"lag_ms": 30.0, "tau_up_ms": 60.0, "tau_down_ms": 50.0}, "brightness": 0.9}
    return [
        Form("recipe", tree(*recipes), _recipe, 30),
        Form("foot trace", tree(*feet), lambda data: write(read_feet(data, "f"))),
        Form("scenario", tree(*recipes), lambda data: _scenario(data, good_feet), 5),
        Form("paper", tree(paper), lambda data: write_paper(read_paper(data, "p"))),
        Form("negatives", tree(*negatives), _negatives, 20),
        Form("enlarger", tree(enlarger), lambda data: write_enlarger(read_enlarger(data, "e"))),
        Form("process", tree(*processes), lambda data: write_process(read_process(data, "p"))),
        Form("how long baths last", tree(rules), lambda data: write_rules(read_rules(data, "b"))),
        Form("edition", tree(edition), lambda data: write_edition(read_edition(data, "e")), 20),
        Form("settings", tree(settings), lambda data: timing(read_settings(data.decode("utf-8", "replace"), "s"))),
        Form("readings", plain(tables[0].encode()), lambda data: read_csv(data, "r.csv")),
        Form("readings through filters", plain(tables[1].encode()), lambda data: read_filter_csv(data, "r.csv")),
        Form("wiring", wiring, lambda data: read_wiring(read_body(data.decode("utf-8", "replace"), "w"), "w")),
        Form("wiring in its place", wiring, placed(WIRING_NAME, _fitting), 6),
        Form("wiring of what is to be dark", wiring, placed(WIRING_NAME, _outputs), 6),
        Form("scan", plain(*images), lambda data: read_greys(io.BytesIO(data), "x", FIT, two_tones=False).whole()),
        Form("negative of one's own", plain(*images), lambda data: own_negative(data, "x")),
        Form("practice scene", plain(scene_file.read_bytes()), placed(scene_file.name, read_scene), 4),
        Form("practice bulb", tree(bulb), placed("bulb.json", read_bulb), 4),
        Form("phones", plain(b'["a", "b"]'), placed("phones", _phones), 4),
        Form(
            "one file to import",
            tree(*recipes, paper, settings, *negatives, enlarger, edition, *processes, rules),
            kept.one,
            5,
        ),
        Form(
            "export",
            lambda dice: kept.spoil_one_of(kept.exported, dice),
            lambda data: kept.many(kept.exported, data, import_),
            4,
        ),
        Form(
            "backup",
            lambda dice: kept.spoil_one_of(kept.backup, dice),
            lambda data: kept.many(kept.backup, data, restore),
            4,
        ),
    ]


_HEADS = ((TABLE, "4,0"), (FILTERS, "2,4"))


def _of(kind: str) -> list[Path]:
    return sorted(path for path in EXAMPLES.rglob(f"*{kind}*.json"))


def _recipe(data: bytes) -> None:
    model = read_recipe(data, "f.json")
    assert read_recipe(write(model), "f.json") == model, "written again it is another"


def _negatives(data: bytes) -> None:
    kept = read_negatives(data, "f.json")
    assert read_negatives(write_negatives(kept), "f.json") == kept, "written again it is another"


def _scenario(data: bytes, feet: list[FeetTrace]) -> None:
    """Play a recipe that can be read against a foot trace that is good."""
    play_recipe(read_recipe(data, "r.json"), feet[len(data) % len(feet)], name="r")


def _fitted(text: str) -> str:
    """Return the example of a wiring file with everything in it that it offers."""
    return "\n".join(line.removeprefix("# ") if "=" in line or "[" in line else line for line in text.splitlines())


def _fitting(folder: Path) -> None:
    for practice in (True, False):
        read_fitting(folder, {}, practice=practice)


def _outputs(folder: Path) -> None:
    read_spec(read_fitting(folder, {}, practice=True, outputs_only=True).lines, outputs_only=True)


def _phones(folder: Path) -> None:
    phones = Phones(folder)
    phones.open()
    phones.close()
