"""Studies of three yards with a table beside; no test of layers may open a socket."""

import socket

import pytest

from habitat.commands.check.account import check_study
from habitat.pipeline.reading import read_layers
from habitat.study.reading import read_study
from tests.layers import builders as make


@pytest.fixture
def joined(tmp_path):
    make.yards(address=make.ADDRESSES).to_file(tmp_path / "y.gpkg")

    def join(text, name="participants"):
        (tmp_path / "t.csv").write_text(text, encoding="utf-8")
        path = make.study(tmp_path, {"yards": "y.gpkg", name: "t.csv"})
        return check_study(path), (lambda: read_layers(read_study(path)))

    return join


@pytest.fixture(autouse=True)
def no_network(monkeypatch):
    def refuse(*_args, **_keys):
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket.socket, "connect", refuse)


@pytest.fixture
def with_plants(tmp_path):
    make.yards().to_file(tmp_path / "yards.fgb")

    def check(data, name="plants.csv", **keys):
        (tmp_path / name).write_bytes(data if isinstance(data, bytes) else data.encode("utf-8"))
        return check_study(make.study(tmp_path, {"yards": "yards.fgb", "plants": {"path": name, **keys}}))

    return check
