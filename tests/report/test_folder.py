"""Where a folder cannot be looked at, that is said in words."""

import pytest

from planner.errors import InputError
from planner.report.folder import check_target


def test_a_name_too_long_for_the_file_system_is_an_input_error(tmp_path):
    # By hand: the usual file systems take names of 255 bytes.
    with pytest.raises(InputError) as caught:
        check_target(tmp_path / ("a" * 300), replace=False)
    assert caught.value.problems[0].rule == "cannot-write"


def test_a_folder_that_may_not_be_read_is_an_input_error(tmp_path, monkeypatch):
    def denied(_self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.iterdir", denied)
    with pytest.raises(InputError) as caught:
        check_target(tmp_path, replace=True)
    assert caught.value.problems[0].rule == "cannot-write"
    assert caught.value.problems[0].given == "Permission denied"
