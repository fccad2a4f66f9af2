"""How templates are read, and what was compiled of them: kept beside the program, as Python keeps its own.

`python -m webui.frame.templates` compiles all of them, as installing does; else each is compiled when a page first
needs it, and kept where this user may write there. Compiling all of them takes most of a second on two x86-64
cores, and 18 MB of memory that are not given back; loading what was compiled takes a twentieth of that.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Final

import jinja2
from flask import Flask
from jinja2 import BytecodeCache, Environment
from jinja2.bccache import Bucket
from jinja2.ext import Extension

from controller.store.columns import toned_words
from webui.frame.looks import look_words, said_of
from webui.wording import filter_called, moment, seconds, texture_of, unparted

APP: Final = "webui.app"
"""The module whose folder the templates stand in."""
_FORM: Final = re.compile(r'<form\b(?: [\w-]+="(?:[^"{]|\{\{[^"{}]*\}\})*")*')
"""The beginning of a form in a template, as far as its attributes are plain."""
_HEADING: Final = re.compile(r"(<h([1-6])\b[^>]*>)(.*?)(</h\2>)", re.DOTALL)
_BEGINS: Final = "template-"
_SUM: Final = 32
"""Bytes of a checksum before the code: half a file, as a power cut leaves it, must not be run."""
_KEPT: Final = Path(__file__).resolve().parents[1] / "__pycache__"


class NoBubbles(Extension):
    """Makes every form of every template `novalidate`: a browser's own bubble is white, and says less than we do."""

    def preprocess(self, source: str, _name: str | None, _filename: str | None = None) -> str:
        """Return a template's text with the word in each of its forms."""
        return _FORM.sub(r"\g<0> novalidate", source)


class WholeFigures(Extension):
    """Keeps each figure and its unit in one line, in every heading of every template."""

    def preprocess(self, source: str, _name: str | None, _filename: str | None = None) -> str:
        """Return a template's text with its headings `unparted`."""
        return _HEADING.sub(r"\1{% filter unparted %}\3{% endfilter %}\4", source)


class Compiled(BytecodeCache):
    """What was compiled of templates, in files of one folder.

    One is found by the template's text, and by all that reads it: Jinja2's version, this module's own text, and how
    the environment is set up. What cannot be read or written is as if it were not there.
    """

    def __init__(self, folder: Path = _KEPT) -> None:
        self._folder = folder
        self._reader = sha256(f"{jinja2.__version__}\0{Path(__file__).read_text('utf-8')}".encode()).hexdigest()

    def get_bucket(self, environment: Environment, name: str, filename: str | None, source: str) -> Bucket:
        """Return where a template's code is to be kept, with the code where it is there."""
        env = environment
        read_by = f"{name} {self._reader} {sorted(env.extensions)} {env.trim_blocks} {env.lstrip_blocks}"
        return super().get_bucket(environment, read_by, filename, source)

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give a bucket what was compiled, if it is whole; one whose template has changed since does not take it."""
        with suppress(OSError):
            told = self._place(bucket).read_bytes()
            if told[:_SUM] == sha256(told[_SUM:]).digest():
                bucket.bytecode_from_string(told[_SUM:])

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled, whole or not at all."""
        place = self._place(bucket)
        draft = place.with_name(f"{place.name}.{os.getpid()}")
        with suppress(OSError):
            self._folder.mkdir(exist_ok=True)
            try:
                code = bucket.bytecode_to_string()
                draft.write_bytes(sha256(code).digest() + code)
                draft.replace(place)
            finally:
                draft.unlink(missing_ok=True)

    def _place(self, bucket: Bucket) -> Path:
        return self._folder / f"{_BEGINS}{bucket.key}"


def read_templates(app: Flask) -> None:
    """Set up how an app's templates are read, before the first one is."""
    words = app.jinja_env
    words.trim_blocks = words.lstrip_blocks = True
    words.add_extension(NoBubbles)
    words.add_extension(WholeFigures)
    if words.bytecode_cache is None:
        words.bytecode_cache = Compiled()
    words.filters.update(
        look_words=look_words,
        said_of=said_of,
        seconds=seconds,
        moment=moment,
        filter_called=filter_called,
        texture=texture_of,
        unparted=unparted,
        toned_words=toned_words,
    )


def compile_all(folder: Path = _KEPT) -> int:
    """Compile every template into `folder`, in place of what lies there; return how many there are."""
    for old in folder.glob(f"{_BEGINS}*"):
        old.unlink()
    app = Flask(APP, static_folder=None)
    read_templates(app)
    app.jinja_env.bytecode_cache = Compiled(folder)
    names = app.jinja_env.list_templates()
    for name in names:
        app.jinja_env.get_template(name)
    return len(names)


if __name__ == "__main__":
    # by the module's own name: what is compiled is found by the names of what reads it, and here they are `__main__`'s
    from webui.frame import templates

    templates.compile_all()
