"""Hashes of inputs."""

import hashlib
import os
from threading import Thread

from lapkit.provenance import file_hash


def test_a_file_that_cannot_be_read_has_no_hash(tmp_path):
    assert file_hash(tmp_path / "none") == file_hash(tmp_path) == ""
    (tmp_path / "log").write_bytes(b"x")
    assert file_hash(tmp_path / "log") == hashlib.sha256(b"x").hexdigest()


def test_a_pipe_is_not_waited_for(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    writer = Thread(target=pipe.write_bytes, args=[b"x"], daemon=True)
    writer.start()
    assert file_hash(pipe) == ""
    assert pipe.read_bytes() == b"x"
