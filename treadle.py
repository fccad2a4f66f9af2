"""The front door of Treadle: the command line, and the assembly of the three rooms. Nothing imports this file.

`treadle dark` must work when little else does, so everything heavy is imported where it is needed.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from controller.commands import printed

if TYPE_CHECKING:
    from controller.daemon.desk import Desk
    from controller.model import Frozen
    from webui.app import Names
    from webui.server import Server

PORT: Final = 8090
_PLAIN: Final = ("serve", "status", "pair", "phones", "check", "wiring", "export", "import", "backup", "restore")
_BAD_INPUT: Final = 2
_FAILED: Final = 1
_ENDED_BY_HAND: Final = 130
"""As a shell has it: 128 and the signal's number."""


def main(argv: Sequence[str] | None = None) -> int:
    """Carry out one command; return 0, 1 for a failed check, or 2 for bad input, told in one sentence."""
    printed.steady()
    try:
        return _main(list(sys.argv[1:] if argv is None else argv))
    except KeyboardInterrupt:  # whoever ended it by hand knows
        return _ENDED_BY_HAND
    finally:
        printed.settle()


def _main(words: list[str]) -> int:
    if words[:1] == ["dark"]:
        from controller.service import dark_command

        parser = printed.Parser(prog="treadle dark")
        dark_command.add_arguments(parser)
        return dark_command.run(parser.parse_args(words[1:]))
    _make_self_at_home(words)
    if words[:1] == ["serve"]:
        gc.disable()  # until it serves: what loading makes is kept
    return _run(words)


def _run(words: Sequence[str]) -> int:
    from controller.errors import ControllerError
    from hardware.errors import HardwareError

    args = _parser(words[0] if words else "").parse_args(words)
    try:
        do: Callable[[argparse.Namespace], int] = args.do
        return do(args)
    except ControllerError as problem:
        return _refuse(str(problem))
    except HardwareError as problem:
        return _refuse(str(problem), _BAD_INPUT if isinstance(problem, ValueError) else _FAILED)
    except PermissionError as problem:
        from hardware.fitting import not_its_own

        return _refuse(not_its_own(problem))
    except OSError as problem:
        return _refuse(f"{problem.filename or 'a file'}: {problem.strerror}. Look at the name and at who may read it.")


def _refuse(sentence: str, status: int = _BAD_INPUT) -> int:
    printed.complain(sentence)
    return status


def _parser(word: str = "") -> argparse.ArgumentParser:
    """Return what reads the command line that begins with `word`.

    Where that is plain, what reckons is left out: a daemon would hold its rooms, and whoever asks wait for them.
    """
    from importlib.metadata import version

    from controller.exposure.decimals import seconds
    from controller.words import say

    parser = printed.Parser(prog="treadle", description=say("command.about"))
    parser.add_argument("--version", action="version", version=f"treadle {version('treadle')}")
    commands: Any = parser.add_subparsers(dest="command", required=True, parser_class=printed.Parser)

    def command(name: str, words: str, do: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        """Add a command that works on real lines, or on those of the practice darkroom."""
        added: argparse.ArgumentParser = commands.add_parser(name, help=say(words))
        added.add_argument("--simulate", action="store_true", help=say("command.simulate"))
        added.set_defaults(do=do)
        return added

    def port(text: str) -> int:
        """Return the number of a port; one over the last would be another port, without a word."""
        if not (text.isascii() and text.isdecimal() and len(text) < 6 and int(text) <= 65535):
            raise argparse.ArgumentTypeError(say("command.no-port", found=text, most=65535))
        return int(text)

    serve = command("serve", "command.serve", _serve)
    serve.add_argument("--host", default="0.0.0.0", help=say("command.host"))  # noqa: S104 - a phone must reach it; unpaired devices see nothing
    serve.add_argument("--port", type=port, default=PORT, help=say("command.port"))

    replay = commands.add_parser("replay", help=say("command.replay"))
    replay.add_argument("file", type=Path, metavar="FILE", help=say("command.file"))
    replay.add_argument("--feet", type=Path, required=True, help=say("command.feet"))
    replay.add_argument("--lead-in", type=seconds, default=2.0, help=say("command.lead-in"))
    replay.add_argument("--lag", type=seconds, default=0.0, help=say("command.lag"))
    replay.add_argument("--process", choices=("RC", "FB"), help=say("command.process"))
    replay.add_argument("--picture", type=Path, metavar="PNG", help=say("picture.picture"))
    replay.add_argument("--negative", default="crane", help=say("picture.negative"))
    replay.add_argument("--negative-b", default="platform", help=say("picture.negative-b"))
    replay.add_argument("--paper", default="one", help=say("picture.paper"))
    replay.add_argument("--sheet", type=int, default=1, help=say("picture.sheet"))
    replay.set_defaults(do=_replay)

    if word not in _PLAIN:
        _add_reckoning(commands)

    commands.add_parser("dark", help=say("command.dark"))
    commands.add_parser("wiring", help=say("wiring.command")).set_defaults(do=_wiring)
    command("pair", "command.pair", _pair)
    command("status", "command.status", _status)
    phones = command("phones", "command.phones", _phones)
    phones.add_argument("--out", metavar="NAME", default=None, help=say("command.phones-out"))
    check = command("check", "command.check", _check)
    check.add_argument("--rebuild", action="store_true", help=say("command.rebuild"))
    check.add_argument("--press", action="store_true", help=say("check.press-flag"))
    check.add_argument("--port", type=port, default=PORT, help=say("check.port-flag"))
    command("export", "command.export", _export).add_argument("folder", type=Path, help=say("command.folder"))
    command("import", "command.import", _import).add_argument("source", type=Path, help=say("command.source"))
    command("backup", "command.back-up", _backup)
    restore = command("restore", "command.restore", _restore)
    restore.add_argument("backup", nargs="?", default="", metavar="BACKUP", help=say("command.backup"))
    restore.add_argument("--fresh-journal", action="store_true", help=say("command.fresh-journal"))
    restore.add_argument("--remove-replaced", action="store_true", help=say("command.remove-replaced"))

    for name in ("serve", "status", "pair", "phones", "check", "export", "import", "backup", "restore", "timing"):
        if name in commands.choices:
            commands.choices[name].add_argument("--data", type=Path, default=None, help=say("command.data"))
    for name in ("replay", "status", "pair", "phones", "check", "import", "timing"):
        if name in commands.choices:
            commands.choices[name].add_argument("--json", action="store_true", help=say("command.json"))
    return parser


def _add_reckoning(commands: Any) -> None:
    """Add the commands that reckon, and bring their rooms."""
    from controller.commands import calc, paper
    from controller.commands.timing import command as timing
    from controller.words import say

    calc.add_arguments(commands)
    commands.choices["calc"].set_defaults(do=lambda args: _show(calc.answer(args), args))

    paper.add_arguments(commands)
    commands.choices["paper"].set_defaults(do=_paper)

    timing.add_arguments(commands.add_parser("timing", help=say("timing.help")))
    commands.choices["timing"].set_defaults(do=_timing)


def _show(answer: Frozen, args: argparse.Namespace) -> int:
    """Print an answer: as JSON, or in its own lines."""
    if args.json:
        printed.tell_json(answer)
        return 0
    lines: Callable[[], Sequence[str]] = answer.lines  # type: ignore[attr-defined]  # every answer has them
    return _tell(*lines())


def _tell(*lines: str) -> int:
    printed.tell(*lines)
    return 0


# ---- the commands


def _serve(args: argparse.Namespace) -> int:
    from controller.service.serve import serve

    where = {"simulate": args.simulate, "host": args.host, "port": args.port}
    return serve(_data(args), **where, open_page=_open_page, load_page=_load_page)


def _load_page() -> None:
    import webui.app
    import webui.server  # noqa: F401


def _open_page(desk: Desk, names: Names, host: str, port: int) -> Server:
    """Put the web room together around a desk, and let it serve."""
    from webui.app import create_app
    from webui.server import Server

    server = Server(create_app(desk, hosts=names), host, port)
    server.start()
    return server


def _replay(args: argparse.Namespace) -> int:
    from controller.commands.replay import play_recipe, replay_timing
    from controller.files import read_start, write_out
    from controller.recipe.fields import LARGEST_BYTES
    from controller.recipe.files import read_feet, read_recipe
    from controller.trays.process import USUAL

    recipe = read_recipe(read_start(args.file, LARGEST_BYTES), args.file.name)
    feet = read_feet(read_start(args.feet, LARGEST_BYTES), args.feet.name)
    timing, lag_ms = replay_timing(args.lead_in, args.lag)
    process = None if args.process is None else USUAL[args.process]
    played = play_recipe(recipe, feet, name=args.file.name, timing=timing, lag_ms=lag_ms, process=process)
    if args.picture is not None:
        from controller.commands.replay_picture import picture_of

        from_ = (args.file, args.feet, *map(Path, (args.negative, args.negative_b, args.paper)))
        write_out(args.picture, picture_of(args, played, recipe), *from_)
    return _show(played.told, args)


def _paper(args: argparse.Namespace) -> int:
    from importlib.util import find_spec

    from controller.commands import paper as command
    from controller.words import say

    if not (find_spec("numpy") and find_spec("scipy")):
        return _refuse(say("command.paper-libraries"))
    return _show(command.answer(args), args)


def _timing(args: argparse.Namespace) -> int:
    from controller.commands.timing.command import answer

    return _show(answer(args, _data(args), _open_page), args)


def _pair(args: argparse.Namespace) -> int:
    from controller.service.door import Code, ask
    from hardware.fitting import runtime_of

    return _show(ask(runtime_of(_data(args).path, os.environ), "pair", Code), args)


def _phones(args: argparse.Namespace) -> int:
    from controller.daemon.phones import PhoneList
    from controller.service.door import ask
    from hardware.fitting import runtime_of

    word = "phones" if args.out is None else f"out {args.out}"
    return _show(ask(runtime_of(_data(args).path, os.environ), word, PhoneList), args)


def _check(args: argparse.Namespace) -> int:
    from controller.commands.check.look import check

    ask = printed.complain if args.press else None
    report = check(_data(args, make=False), simulate=args.simulate, port=args.port, ask=ask, anew=args.rebuild)
    _show(report, args)
    return 0 if report.good else _FAILED


def _export(args: argparse.Namespace) -> int:
    from controller.commands.copies import taken_out

    return _tell(*taken_out(_data(args), args.folder))


def _import(args: argparse.Namespace) -> int:
    from controller.commands.copies import brought_in

    return _show(brought_in(_data(args), args.source), args)


def _backup(args: argparse.Namespace) -> int:
    from controller.commands.copies import backed_up

    for line in backed_up(_data(args), simulate=args.simulate):
        _tell(line)
    return 0


def _restore(args: argparse.Namespace) -> int:
    from controller.commands.copies import restored

    asked = {"fresh_journal": args.fresh_journal, "without_replaced": args.remove_replaced}
    return _tell(*restored(_data(args), args.backup, **asked))


def _wiring(_args: argparse.Namespace) -> int:
    from controller.commands.wiring_page import example

    return _tell(example().removesuffix("\n"))


def _status(args: argparse.Namespace) -> int:
    from controller.errors import StoreTrouble
    from controller.service.door import ask
    from controller.service.standing import Standing
    from hardware.fitting import default_data, runtime_of

    data = args.data or default_data(os.environ, practice=args.simulate)
    try:
        return _show(ask(runtime_of(data, os.environ), "status", Standing), args)
    except StoreTrouble as nothing_runs:
        return _refuse(str(nothing_runs), _FAILED)


def _data(args: argparse.Namespace, *, make: bool = True) -> Any:
    from controller.store.folder import DataFolder
    from hardware.fitting import default_data

    simulate = getattr(args, "simulate", False)
    return DataFolder(args.data or default_data(os.environ, practice=simulate), make=make)


# ---- setting up


def _make_self_at_home(words: Sequence[str]) -> None:
    """Where the libraries are missing, as on a fresh machine, set up `.venv` beside this file and go on in it."""
    from importlib.util import find_spec

    if all(find_spec(name) for name in ("pydantic", "flask", "waitress", "apscheduler", "segno")):
        return
    here = Path(__file__).resolve().parent
    python = here / ".venv" / "bin" / "python"
    if Path(sys.prefix) == here / ".venv":
        raise SystemExit(_refuse(f"{here / '.venv'} lacks a library. Remove that folder and start again.", _FAILED))
    import subprocess

    if subprocess.run([here / "tests" / "setup", "run"], check=False).returncode:
        raise SystemExit(_refuse("The set-up did not work; what it said stands above.", _FAILED))
    os.execv(python, [str(python), str(here / "treadle.py"), *words])  # noqa: S606 - our own interpreter, our own file


if __name__ == "__main__":
    sys.exit(main())
