"""YAML 1.2 files as plain data, with the line of every entry.

PyYAML reads YAML 1.1, where ``yes`` is true, ``1e-3`` is text and ``1:30`` is 90, and where the
last of two equal keys wins in silence. This module keeps its fast C parser and replaces the rest:

scalars   the core schema of YAML 1.2.2, section 10.3.2: booleans are ``true`` and ``false`` only
keys      are text and appear once; a second one is a problem that names both lines
aliases   are refused: they hide which entry a number belongs to, and a few lines of them can
          unfold to more data than fits in memory

Reading is O(n) in the length of the file; a line is looked up only when there is something to say.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import cast

import yaml

KeyPath = tuple[str | int, ...]

_TAG = "tag:yaml.org,2002:"
_DEEPEST = 20  # levels; the format has 8, and a few kilobytes of "[" would exhaust the stack
_MISTYPED = 0.8  # likeness; "wording" is not meant for "reading", "titel" is for "title"
_ALIAS_LIKE = re.compile(r"[&*][\w-]")


class _CoreSchemaLoader(yaml.CSafeLoader):
    """The C parser with the scalars of YAML 1.2."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012


class _CoreSchemaDumper(yaml.CSafeDumper):
    """The C writer, which quotes text that YAML 1.2 would read as something else."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012

    def ignore_aliases(self, data: object) -> bool:
        """Write equal objects out in full, since aliases are refused on reading."""
        return True


# Whole numbers of more than 18 digits are left to the pattern of the floating-point numbers.
_SCALARS = (
    ("null", r"^(?:~|null|Null|NULL|)$", ["~", "n", "N", ""]),
    ("bool", r"^(?:true|True|TRUE|false|False|FALSE)$", list("tTfF")),
    ("int", r"^(?:[-+]?[0-9]{1,18}|0o[0-7]{1,18}|0x[0-9a-fA-F]{1,15})$", list("-+0123456789")),
    (
        "float",
        r"^(?:[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?"
        r"|[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN))$",
        list("-+.0123456789"),
    ),
)
for _name, _pattern, _first in _SCALARS:
    for _handler in (_CoreSchemaLoader, _CoreSchemaDumper):
        _handler.add_implicit_resolver(_TAG + _name, re.compile(_pattern), _first)


def _whole(text: str) -> int:
    base = {"0o": 8, "0x": 16}.get(text[:2], 10)
    return int(text, base)


def _real(text: str) -> float:
    return float(text.lower().replace(".inf", "inf").replace(".nan", "nan"))


_READERS: dict[str, Callable[[str], object]] = {
    _TAG + "str": str,
    _TAG + "null": lambda text: None,
    _TAG + "bool": lambda text: text.lower() == "true",
    _TAG + "int": _whole,
    _TAG + "float": _real,
}


@dataclass(slots=True, kw_only=True)
class MarkedFile:
    """One file as plain data.

    ``place`` is the file as people read it, ``data`` its content (empty if it could not be read),
    ``problems`` what is wrong with it as YAML, each with its line. ``is_sound`` is false if the
    content cannot be relied on at all.
    """

    path: Path
    place: str
    data: dict[str, object] = field(default_factory=dict)
    problems: list[tuple[int, str]] = field(default_factory=list)
    is_sound: bool = True
    root: yaml.Node | None = None

    def line(self, path: KeyPath) -> int:
        """Line (from 1) of the entry at ``path``, or of the nearest entry above it.

        A key that the file does not have is looked up by its nearest spelling, so that what
        stands under a mistyped key is still found.
        """
        node, line = self.root, 1
        for key in path:
            found = _child(node, key)
            if found is None:
                break
            line, node = found
        return line


def read_marked(path: Path, place: str) -> MarkedFile:
    """Read a YAML file.

    Parameters
    ----------
    path : Path
        The file.
    place : str
        How messages name it.

    Returns
    -------
    MarkedFile
        Never raises for what is in the file: see ``problems``.
    """
    marked = MarkedFile(path=path, place=place)
    try:
        text = path.read_bytes().decode("utf-8")
    except OSError as error:
        return _unsound(marked, 1, f"got no readable file ({error.strerror}); expected YAML")
    except UnicodeDecodeError as error:
        return _unsound(marked, 1, f"got bytes that are not UTF-8 at position {error.start}")
    return _marked(marked, text)


def marked_text(text: str, place: str) -> MarkedFile:
    """Read YAML that is in no file; see ``read_marked``."""
    return _marked(MarkedFile(path=Path(place), place=place), text)


def _marked(marked: MarkedFile, text: str) -> MarkedFile:
    try:
        anchors = list(_anchors(text)) if _ALIAS_LIKE.search(text) else []
        root = None if anchors else _CoreSchemaLoader(text).get_single_node()
    except yaml.YAMLError as error:
        return _unsound(marked, *_syntax_problem(error, text))
    if anchors:
        marked.problems = anchors
        marked.is_sound = False
        return marked
    if not isinstance(root, yaml.MappingNode):
        return _unsound(marked, 1, "got no mapping; expected keys such as `format: 1`")
    marked.root = root
    content = _Content(marked.problems)
    data = content.read(root, 0)
    marked.data = data if isinstance(data, dict) else {}
    return marked


def write_yaml(data: object) -> str:
    """Text of YAML 1.2 that ``read_marked`` reads back as the same data, in the same order."""
    return yaml.dump(data, Dumper=_CoreSchemaDumper, sort_keys=False, allow_unicode=True, width=100)


class _Content:
    """Turns nodes into plain data and collects what is wrong on the way."""

    def __init__(self, problems: list[tuple[int, str]]) -> None:
        self.problems = problems

    def read(self, node: yaml.Node, depth: int) -> object:
        if depth > _DEEPEST:
            self._note(node, f"got more than {_DEEPEST} levels; expected fewer")
            return None
        if isinstance(node, yaml.ScalarNode):
            return self._scalar(node)
        if node.tag not in (_TAG + "map", _TAG + "seq"):
            self._note(node, f'got the tag "{node.tag}"; expected none')
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, depth)
        return [self.read(item, depth + 1) for item in node.value]

    def _scalar(self, node: yaml.ScalarNode) -> object:
        try:
            return _READERS[node.tag](node.value)
        except (KeyError, ValueError):
            self._note(node, f'got the tag "{node.tag}" on "{node.value}"; expected none')
            return None

    def _mapping(self, node: yaml.MappingNode, depth: int) -> dict[str, object]:
        data: dict[str, object] = {}
        first: dict[str, int] = {}
        for key_node, value_node in node.value:
            if not isinstance(key_node, yaml.ScalarNode) or key_node.tag != _TAG + "str":
                shown = f'"{key_node.value}"' if isinstance(key_node, yaml.ScalarNode) else "a list"
                self._note(key_node, f"got {shown} as a key; expected text, in quotes if need be")
                continue
            key = key_node.value
            if key in first:
                self._note(
                    key_node,
                    f'got key "{key}" again; expected it once (first on line {first[key]})',
                )
                continue
            first[key] = _line(key_node)
            data[key] = self.read(value_node, depth + 1)
        return data

    def _note(self, node: yaml.Node, text: str) -> None:
        self.problems.append((_line(node), text))


def _line(node: yaml.Node) -> int:
    mark = cast(yaml.Mark, node.start_mark)
    return mark.line + 1


def _child(node: yaml.Node | None, key: str | int) -> tuple[int, yaml.Node] | None:
    if isinstance(node, yaml.SequenceNode) and isinstance(key, int) and key < len(node.value):
        return _line(node.value[key]), node.value[key]
    if not isinstance(node, yaml.MappingNode):
        return None
    pairs = [pair for pair in node.value if isinstance(pair[0], yaml.ScalarNode)]
    children = {name.value: (_line(name), value) for name, value in reversed(pairs)}
    if key in children:
        return children[key]
    near = get_close_matches(str(key), list(children), n=1, cutoff=_MISTYPED)
    return children[near[0]] if near else None


def _anchors(text: str) -> Iterator[tuple[int, str]]:
    for event in yaml.parse(text, Loader=_CoreSchemaLoader):
        anchor = getattr(event, "anchor", None)
        if anchor is not None:
            mark = "*" if isinstance(event, yaml.AliasEvent) else "&"
            yield (
                cast(yaml.Mark, event.start_mark).line + 1,
                f'got "{mark}{anchor}"; expected the entry written out, aliases are refused',
            )


def _syntax_problem(error: yaml.YAMLError, text: str) -> tuple[int, str]:
    if isinstance(error, yaml.MarkedYAMLError) and error.problem_mark is not None:
        context = f" {error.context}" if error.context else ""
        return (
            error.problem_mark.line + 1,
            f"got bad syntax ({error.problem}{context}); expected YAML 1.2",
        )
    position = getattr(error, "position", 0)
    line = text.encode()[:position].count(b"\n") + 1
    return line, "got a character that YAML does not allow; expected text"


def _unsound(marked: MarkedFile, line: int, problem: str) -> MarkedFile:
    marked.problems.append((line, problem))
    marked.is_sound = False
    return marked


def key_path(path: Sequence[str | int]) -> str:
    """Path as people read it: ``signs.flow.rows[2].then``."""
    shown = ""
    for key in path:
        shown += f"[{key}]" if isinstance(key, int) else f".{key}" if shown else key
    return shown
