"""What the apps of a test run share: templates and addresses, compiled once a process.

Every test makes an app of its own, and compiling takes most of that time. The code that is kept is
that of the same source; nothing of an app, its settings or its database is kept.
"""

from collections.abc import Callable
from typing import Any

from flask import Flask
from jinja2.bccache import Bucket, BytecodeCache
from werkzeug.routing import Rule


class KeptTemplates(BytecodeCache):
    """Compiled templates by their place and the checksum of their source."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], Any] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        bucket.code = self._kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._kept[bucket.key, bucket.checksum] = bucket.code


class KeptRule(Rule):
    """Rule of an address; the functions that build it are kept by all that they depend on."""

    kept: dict[tuple[object, ...], Callable[..., tuple[str, str]]] = {}  # noqa: RUF012

    def _compile_builder(self, append_unknown: bool = True) -> Callable[..., tuple[str, str]]:
        defaults = tuple(sorted((self.defaults or {}).items()))
        key = (self.rule, tuple(self._trace), defaults, append_unknown)
        if key not in self.kept:
            self.kept[key] = super()._compile_builder(append_unknown)
        return self.kept[key]


def keep_what_is_compiled() -> None:
    """Let every app that is made from now on share it."""
    Flask.jinja_options = {"bytecode_cache": KeptTemplates()}
    Flask.url_rule_class = KeptRule
