"""Templates and addresses compiled once in each process that tests, though every test has an app of its own.

What is compiled of a template hangs on its text, which its checksum stands for, and on the extensions that read it;
what builds an address, on the rule of it. A rule with values given beforehand is compiled anew.
"""

from __future__ import annotations

from flask import Flask
from jinja2 import BytecodeCache, Environment
from jinja2.bccache import Bucket
from werkzeug.routing import Rule


class _Compiled(BytecodeCache):
    """Keeps in memory what was compiled; a bucket whose template has changed since does not load."""

    def __init__(self) -> None:
        self._kept: dict[str, bytes] = {}

    def get_bucket(self, environment: Environment, name: str, filename: str | None, source: str) -> Bucket:
        read_by = f"{name} {sorted(environment.extensions)} {environment.trim_blocks} {environment.lstrip_blocks}"
        return super().get_bucket(environment, read_by, filename, source)

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self._kept:
            bucket.bytecode_from_string(self._kept[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._kept[bucket.key] = bucket.bytecode_to_string()


def compile_once() -> None:
    """Have all apps that are made from now on share what was compiled."""
    Flask.jinja_options["bytecode_cache"] = _Compiled()
    compiled, kept = getattr(Rule, "_compile_builder", None), {}

    def build(rule: Rule, append_unknown: bool = True) -> object:
        if rule.defaults:
            return compiled(rule, append_unknown)
        key = rule.rule, *rule._trace, append_unknown
        if key not in kept:
            kept[key] = compiled(rule, append_unknown)
        return kept[key]

    if compiled is not None:  # it is Werkzeug's own, which may do otherwise one day
        Rule._compile_builder = build  # type: ignore[method-assign]
