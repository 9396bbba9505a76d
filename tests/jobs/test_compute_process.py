"""The arithmetic runs in another process: it answers, it may die, it ends with its parent."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from brinebook.jobs.compute_process import ComputeFailed, ComputeProcess, command_for
from brinebook.planning.recompute import Changed
from brinebook.storage.sql import open_repository
from support.live import ROOT
from support.world import fill_team

CHANGED = Changed(edited_types=frozenset({"rider_body"}), subject_ids=frozenset({"r1"}))


@pytest.fixture
def repository(tmp_path):
    opened = open_repository(tmp_path)
    fill_team(opened, "red", ("r1", "r2"))
    yield opened
    opened.close()


@pytest.fixture
def process(tmp_path):
    made = ComputeProcess(command_for(tmp_path))
    yield made
    made.close()


def test_what_was_asked_for_is_computed_there_and_stored(process, repository):
    assert repository.document("red", "profile:r1") is None

    process.compute(repository, "red", CHANGED)

    assert repository.document("red", "profile:r1") is not None
    assert repository.document("red", "profile:r2") is None


def test_a_failure_there_is_told_here_by_place_and_the_next_one_works(process, repository):
    with pytest.raises(ComputeFailed) as caught:
        process.compute(repository, "red", Changed(edited_types=frozenset({"stage"}), stage_ids=frozenset({7})))
    process.compute(repository, "red", CHANGED)

    assert " at " in str(caught.value)
    assert repository.document("red", "profile:r1") is not None


def test_what_a_library_prints_never_mixes_with_the_answers():
    program = (
        "import os\n"
        "from brinebook.jobs.compute_process import private_stdout\n"
        "with private_stdout() as stdout:\n"
        "    os.write(1, b'banner')\n"
        "    stdout.write(b'answer')\n"
    )

    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True)

    assert (done.stdout, done.stderr) == (b"answer", b"banner")


def test_a_killed_process_is_started_again(process, repository):
    process.compute(repository, "red", CHANGED)
    os.kill(process._process.pid, signal.SIGKILL)
    with pytest.raises(ComputeFailed):
        process.compute(repository, "red", CHANGED)

    process.compute(repository, "red", CHANGED)

    assert process._process.poll() is None


CHATTY = """
import os, sys
from brinebook.jobs.compute_process import answer_all
answer_all(sys.stdin.buffer, sys.stdout.buffer, lambda team_id, changed: os.write(1, b"WARNING: a solver speaks\\n"))
"""


def test_a_process_that_says_something_else_is_let_go_so_that_no_answer_is_an_earlier_questions():
    made = ComputeProcess([sys.executable, "-c", CHATTY])
    with pytest.raises(ComputeFailed):
        made.compute(None, "red", CHANGED)

    assert made._process is None
    made.close()


def test_a_closed_process_is_gone_and_computes_no_more(process, repository):
    process.start()
    pid = process._process.pid
    process.close()

    with pytest.raises(ComputeFailed):
        process.compute(repository, "red", CHANGED)
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


PARENT = """
import sys, time
from pathlib import Path
from brinebook.jobs.compute_process import ComputeProcess, command_for
process = ComputeProcess(command_for(Path(sys.argv[1])))
process.start()
print(process._process.pid, flush=True)
time.sleep(60)
"""


def test_it_ends_when_its_parent_is_killed(tmp_path):
    parent = subprocess.Popen([sys.executable, "-c", PARENT, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE)
    pid = int(parent.stdout.readline())
    parent.kill()
    parent.wait()
    parent.stdout.close()

    until = time.monotonic() + 30
    while _is_running(pid) and time.monotonic() < until:
        time.sleep(0.1)

    assert not _is_running(pid)


def _is_running(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False
