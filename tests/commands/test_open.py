"""``habitat open``: the address that it tells, how it ends, and what it refuses."""

import re
import signal
import urllib.request
from urllib.error import HTTPError

import pytest

from habitat.commands.guard import INTERRUPTED, interrupted_words
from habitat.errors import HabitatError
from tests.commands.calls import call, ended, start


def test_it_serves_until_ctrl_c_and_says_how_to_go_on(street):
    process = start("open", str(street.folder), "--study", str(street.path))
    told = process.stdout.readline()
    address = re.search(r"http://127\.0\.0\.1:\d+/enter/\S+", told)[0]
    jar = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    assert "What if?" in jar.open(address, timeout=30).read().decode()
    with pytest.raises(HTTPError, match="403"):
        urllib.request.urlopen(address, timeout=30)
    process.send_signal(signal.SIGINT)
    code, _, said = ended(process)
    assert code == INTERRUPTED
    assert "Closed; what was saved is kept. To open it again: habitat open" in said
    assert "Traceback" not in said
    assert address.rpartition("/")[2] not in said


def test_without_the_extra_it_says_what_to_install(street, monkeypatch):
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(HabitatError, match=r"is not installed.*pip install .habitat\[open\]"):
        call("open", str(street.folder))


def test_a_folder_without_results_is_named(tmp_path):
    with pytest.raises(HabitatError, match="no results of a run here"):
        call("open", str(tmp_path))


def test_the_words_after_ctrl_c():
    assert interrupted_words(["open", "plan"]).endswith("To open it again: habitat open plan")
