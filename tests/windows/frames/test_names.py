"""The names of ``from windows import``: few, there, documented, and light until they are used."""

import inspect
import subprocess
import sys

import pytest

import windows


@pytest.mark.parametrize("name", windows.__all__)
def test_every_name_is_there_and_says_what_it_is(name):
    each = getattr(windows, name)
    assert each.__name__ == name
    assert inspect.getdoc(each)
    if inspect.isfunction(each) and each.__module__.startswith("windows.frames"):
        text = inspect.getdoc(each)
        for part in ("Parameters\n---", "Returns\n---", "Raises\n---", "Examples\n---"):
            assert part in text
        for parameter in inspect.signature(each).parameters.values():
            assert parameter.annotation is not inspect.Parameter.empty
            assert parameter.name in text


def test_names_are_sorted_and_no_module_hides_one():
    assert sorted(windows.__all__) == windows.__all__ == dir(windows)
    for name in windows.__all__:
        assert not inspect.ismodule(getattr(windows, name))
    with pytest.raises(AttributeError, match="has no attribute 'find_window'"):
        windows.find_window  # noqa: B018


def test_the_package_loads_nothing_heavy_until_a_name_is_used():
    code = "import sys, windows; dir(windows); print({'pandas', 'numpy'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "set()\n"
