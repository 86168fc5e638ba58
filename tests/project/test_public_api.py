"""The public names of the library: one sorted list, true, and documented."""

import inspect
import types

import triage


def test_public_list_is_sorted_and_has_no_name_twice() -> None:
    assert list(triage.__all__) == sorted(set(triage.__all__))


def test_public_list_is_what_the_package_offers() -> None:
    offered = {
        name
        for name, value in vars(triage).items()
        if not name.startswith("_") and not isinstance(value, types.ModuleType)
    }

    assert offered <= set(triage.__all__)
    assert all(hasattr(triage, name) for name in triage.__all__)


def test_every_public_function_and_class_has_a_docstring() -> None:
    public = {name: getattr(triage, name) for name in triage.__all__}

    silent = [
        name
        for name, value in public.items()
        if (inspect.isclass(value) or inspect.isfunction(value)) and not inspect.getdoc(value)
    ]

    assert public, "triage offers nothing"
    assert silent == []
