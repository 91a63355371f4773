"""The port: of this machine alone; a taken one is named."""

import pytest

from habitat.errors import OutputError
from habitat.what_if.listening import listen_on


def test_only_this_machine_is_listened_to_and_a_taken_port_is_named(capsys):
    server = listen_on(0)
    try:
        assert server.host == "127.0.0.1"
        assert server.port > 0
        with pytest.raises(OutputError, match=f"port {server.port} is taken.*--port"):
            listen_on(server.port)
    finally:
        server.server_close()
    assert capsys.readouterr() == ("", "")
