"""A program file is read whole, or not at all."""

import os
import threading

import pytest

from planner.errors import InputError
from planner.inputs.program_file import MOST_BYTES, read_program


def test_the_bytes_are_those_of_the_file(tmp_path):
    path = tmp_path / "a.ngc"
    path.write_bytes(b"G21\r\n\xff")
    assert read_program(path) == b"G21\r\n\xff"


def test_a_file_of_the_largest_size_is_read_and_one_byte_more_is_not(tmp_path):
    path = tmp_path / "a.ngc"
    path.write_bytes(b"\n" * MOST_BYTES)
    assert len(read_program(path)) == MOST_BYTES
    path.write_bytes(b"\n" * (MOST_BYTES + 1))
    with pytest.raises(InputError) as caught:
        read_program(path)
    assert caught.value.problems[0].rule == "file-not-readable"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_that_never_ends_is_refused(tmp_path):
    # Property: its stated size is 0, whatever comes out of it.
    path = tmp_path / "pipe"
    os.mkfifo(path)

    def fill() -> None:
        try:
            with path.open("wb", buffering=0) as pipe:
                while True:
                    pipe.write(b"\n" * 65536)
        except BrokenPipeError:
            return

    writer = threading.Thread(target=fill)
    writer.start()
    with pytest.raises(InputError):
        read_program(path)
    writer.join(timeout=10)
    assert not writer.is_alive()


@pytest.mark.parametrize("name", ["", "none.ngc"])
def test_a_folder_or_nothing_is_refused(tmp_path, name):
    with pytest.raises(InputError) as caught:
        read_program(tmp_path / name)
    assert caught.value.problems[0].rule == "file-not-readable"
