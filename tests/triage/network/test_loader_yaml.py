"""YAML 1.2: what PyYAML by itself would read as something else, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.network.yaml_marks import key_path, read_marked, write_yaml


def read_text(folder, text):
    path = folder / "a.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_marked(path, "a.yaml")


# YAML 1.2.2, section 10.3.2, "Tag Resolution" of the core schema.
@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("yes", "yes"), ("no", "no"), ("on", "on"), ("true", True), ("False", False),
        ("1e-3", 0.001), ("1_000", "1_000"), ("1:30", "1:30"), ("010", 10), ("0o17", 15),
        ("0x1F", 31), ("-12", -12), ("+.5", 0.5), ("2001-01-01", "2001-01-01"), ("~", None),
        ("", None), ("null", None), ("'1'", "1"), ("-.inf", float("-inf")), ("<<", "<<"),
    ],
)  # fmt: skip
def test_scalar_is_read_by_the_core_schema(written, value, tmp_path):
    marked = read_text(tmp_path, f"key: {written}\n")

    assert marked.problems == []
    assert marked.data["key"] == value
    assert type(marked.data["key"]) is type(value)


def test_not_a_number_is_read_as_such(tmp_path):
    marked = read_text(tmp_path, "key: .nan\n")

    assert marked.data["key"] != marked.data["key"]


@pytest.mark.parametrize(
    ("text", "line", "problem"),
    [
        ("a: 1\nb: 2\na: 3\n", 3, 'got key "a" again; expected it once (first on line 1)'),
        ("a:\n  b: 1\n  b: 2\n", 3, 'got key "b" again; expected it once (first on line 2)'),
        ("a: &x 1\n", 1, 'got "&x"; expected the entry written out, aliases are refused'),
        ("a: 1\nb: *x\n", 2, 'got "*x"; expected the entry written out, aliases are refused'),
        ("a: 1\n3: 1\n", 2, 'got "3" as a key; expected text, in quotes if need be'),
        ("a: 1\n? [b]\n: 1\n", 2, "got a list as a key; expected text, in quotes if need be"),
        ("a: !secret 1\n", 1, 'got the tag "!secret" on "1"; expected none'),
        ("a: !!int x\n", 1, 'got the tag "tag:yaml.org,2002:int" on "x"; expected none'),
        ("a: !!set {x: 1}\n", 1, 'got the tag "tag:yaml.org,2002:set"; expected none'),
        ("a: " + "[" * 30 + "]" * 30 + "\n", 1, "got more than 20 levels; expected fewer"),
        ("- a\n", 1, "got no mapping; expected keys such as `format: 1`"),
        ("", 1, "got no mapping; expected keys such as `format: 1`"),
        (b"a: 1\nb: \xff\n", 1, "got bytes that are not UTF-8 at position 8"),
        ("a: 1\nb: \x01\n", 2, "got a character that YAML does not allow; expected text"),
        ("a: 1\n---\nb: 2\n", 2, "got bad syntax (but found another document"),
        ("a: 1\nb: [1\nc: 2\n", 3, "got bad syntax (did not find expected ',' or ']'"),
        ("a: 1\n\tb: 2\n", 2, "got bad syntax (found"),
    ],
)
def test_bad_file_has_a_problem_with_its_line(text, line, problem, tmp_path):
    marked = read_text(tmp_path, text)

    assert marked.problems[0][0] == line
    assert marked.problems[0][1].startswith(problem)


def test_ampersand_inside_a_text_is_no_anchor(tmp_path):
    marked = read_text(tmp_path, 'a: "wash &rinse *twice*"\n')

    assert marked.problems == []


def test_line_is_that_of_the_key_or_the_nearest_entry_above(tmp_path):
    marked = read_text(tmp_path, "a:\n  b:\n    - x\n    - y: 1\n  colour: 2\n")

    lines = [
        marked.line(path)
        for path in [("a", "b", 1, "y"), ("a", "b", 1), ("a", "colours"), ("a", "zzz"), ()]
    ]

    assert lines == [4, 4, 5, 1, 1]


def test_key_path_shows_list_items_by_number():
    assert key_path(("signs", "flow", "rows", 2, "then")) == "signs.flow.rows[2].then"


plain = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(min_value=-(10**17), max_value=10**17)
    | st.floats(allow_nan=False)
    | st.text(max_size=12)
    | st.sampled_from(["yes", "1e-3", "1:30", "~", "010", "0o7", ".inf", "<<", "true", "=", "-"]),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(data=st.dictionaries(st.text(max_size=8), plain, min_size=1, max_size=4))
def test_data_written_is_read_back_the_same(data, tmp_path_factory):
    marked = read_text(tmp_path_factory.mktemp("written"), write_yaml(data))

    assert marked.problems == []
    assert marked.data == data
