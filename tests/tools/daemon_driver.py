"""A daemon that tests may kill: a darkroom with spans scaled short, asked and told by lines of JSON.

Started as `python tests/tools/daemon_driver.py FOLDER [OPTIONS]` with the project and its tests on the path.
OPTIONS is JSON:
"timing" (spans that differ from `daemon_bench.SHORT`), "lines" (a specification of other lines than the plain
practice ones), "wiring" (the text of a wiring file), "pace" (of the trays; at once where nothing is said) and "web"
(serve the pages as well).
Its first line tells how things stand; with pages a second one follows: port and pairing code. Each line on standard
input asks for something, or for nothing but how things stand; each gets one line in answer.
"""

from __future__ import annotations

import gc
import json
import sys
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

from controller.daemon.darkroom import Darkroom
from controller.daemon.desk import Desk
from controller.errors import ControllerError
from controller.foot.acts import ACT, StandAtEnlarger
from controller.practice.practice_scene import HURRY
from controller.recipe.at_enlarger import AtEnlarger
from controller.store.folder import DataFolder
from controller.trays.process import read_process
from hardware.fitting import Fitting
from hardware.open_lines import read_spec
from tools.daemon_bench import SHORT, fit, hurry_trays


def main(folder: Path, options: dict[str, object]) -> None:
    """Open the darkroom, and answer until killed.

    Who loads this with the garbage left alone, as `treadle serve` does, has it looked after from here on.
    """
    runtime = folder / "run"
    runtime.mkdir(parents=True, exist_ok=True)
    changes = options.get("timing", {})
    assert isinstance(changes, dict)
    timing = replace(SHORT, **changes)
    lines = options.get("lines")
    if isinstance(lines, dict):
        wiring = read_spec(lines).wiring
        fitting = Fitting(wiring, lines, runtime, practice=lines["kind"] == "practice", timing=timing)
    else:
        fitting = fit(folder, timing, str(options.get("wiring", "")))
    pace = options.get("pace", "once")
    assert pace in HURRY
    hurry_trays(folder / "data", pace)
    darkroom = Darkroom(DataFolder(folder / "data"), fitting)
    with ExitStack() as leaving:
        darkroom.open()
        leaving.callback(darkroom.close)
        gc.freeze()
        gc.enable()
        desk = darkroom.desk
        print(desk.status().model_dump_json(), flush=True)
        if options.get("web"):
            from webui.app import create_app
            from webui.server import Server

            server = Server(create_app(desk, hosts=["127.0.0.1"]), "127.0.0.1", 0)
            server.start()
            leaving.callback(server.close)
            print(json.dumps({"port": server.port, "code": desk.pairing().new_code()}), flush=True)
        for line in sys.stdin:
            print(answer(desk, json.loads(line)), flush=True)


def answer(desk: Desk, asked: dict[str, object]) -> str:
    """Do what is asked, and return how things stand then, or why it was refused."""
    try:
        match asked:
            case {"save": str(text)}:
                kept = desk.recipes().save(text)
                desk.do(ACT.validate_python({"verb": "load", "source": kept.id}), desk.status().number)
            case {"keep": str(text)}:
                desk.recipes().save(text)
            case {"edit": str(text)}:
                plan = desk.status().plan
                assert plan is not None
                desk.recipes().save(text, plan.source)
            case {"settings": dict(changes)}:
                desk.change_settings(changes)
            case {"reference": True}:
                from tools.fitted_papers import demo  # a fit, which needs what few who start a daemon here wait for

                stands = {"negative_title": "Crane", "magnification": 2.0, "aperture": 8.0, "head_height_mm": 620.0}
                kept = desk.papers().keep(demo())
                bench = AtEnlarger(paper=kept.id, paper_title=kept.title, **stands)
                desk.do(StandAtEnlarger(bench=bench), desk.status().number)
                desk.easel().begin("reference", desk.status().number)
            case {"process": str(text)}:
                desk.trays().keep_process(read_process(text, "process"))
            case {"act": act}:
                desk.do(ACT.validate_python(act), desk.status().number)
    except ControllerError as refusal:
        return json.dumps({"refused": str(refusal)})
    return desk.status().model_dump_json()


if __name__ == "__main__":
    main(Path(sys.argv[1]), json.loads(sys.argv[2]) if len(sys.argv) > 2 else {})
