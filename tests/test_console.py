"""The command line in an odd environment: closed and full streams, other encodings, signals."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

DEMO = Path(__file__).parents[1] / "examples" / "dam_site"
COMMAND = [sys.executable, "-m", "jointstats.cli"]


def _shell(line: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a line of shell in which `$js` is the command and `$demo` the example site."""
    paths = {"js": " ".join(COMMAND), "demo": str(DEMO)}
    return subprocess.run(
        ["bash", "-c", line],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, **paths, **environment},
        timeout=300,
    )


@pytest.mark.parametrize("command", ["check $demo", "--help"])
def test_a_reader_that_stops_reading_ends_it_quietly(command: str) -> None:
    """Where a pipe is closed at once, the command ends with 0 and says nothing."""
    done = _shell(f"( $js {command}; echo status $? >&2 ) | true")
    assert done.stderr == "status 0\n"


def test_a_full_disk_under_standard_output_is_named() -> None:
    """What can't be printed is told of standard output, not of the site; the exit is 2."""
    done = _shell("$js check $demo > /dev/full; echo status $?")
    assert done.stdout == "status 2\n"
    assert done.stderr == "standard output: No space left on device\n"


@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-", "<&- >&- 2>&-"])
def test_closed_streams_change_nothing(closed: str, tmp_path: Path) -> None:
    """With standard streams closed, files are written as ever, and nothing else into them."""
    assert _shell("$js orient $demo --output $out", out=str(tmp_path / "a.csv")).returncode == 0
    done = _shell(f"$js orient $demo --output $out {closed}", out=str(tmp_path / "b.csv"))
    assert done.returncode == 0
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()
    assert sorted(one.name for one in tmp_path.iterdir()) == ["a.csv", "b.csv"]


@pytest.mark.parametrize(
    "setting", [{"PYTHONIOENCODING": "ascii"}, {"PYTHONUTF8": "0", "LC_ALL": "C"}]
)
def test_any_encoding_will_do(setting: dict[str, str], tmp_path: Path) -> None:
    """Names beyond ASCII are printed whole, whatever the environment calls its encoding."""
    table = "hole,trend_deg,plunge_deg,length_m\nBohrung Ä1,0,60,30\n"
    (tmp_path / "holes.csv").write_text(table, encoding="utf-8")
    rows = "hole,depth_m,dip_deg,dip_direction_deg\nBohrung Ä1,4,91,10\n"
    (tmp_path / "fractures.csv").write_text(rows, encoding="utf-8")
    done = _shell("$js check $site", site=str(tmp_path), **setting)
    assert done.returncode == 2 and len(done.stderr.splitlines()) == 1
    (tmp_path / "fractures.csv").write_text(rows.replace("91", "81"), encoding="utf-8")
    done = _shell("$js sets $site --json", site=str(tmp_path), **setting)
    assert done.returncode == 0, done.stderr
    assert "Ä1" in done.stdout


def test_a_directory_whose_name_is_no_text(tmp_path: Path) -> None:
    """A site in a directory with a name in an old encoding is reported on like any other."""
    place = os.fsencode(tmp_path) + b"/grube\xe4"
    os.mkdir(place)
    tables = {
        b"/holes.csv": b"hole,trend_deg,plunge_deg,length_m\nB1,0,60,30\n",
        b"/fractures.csv": b"hole,depth_m,dip_deg,dip_direction_deg\nB1,4,81,10\nB1,9,80,12\n",
    }
    for name, text in tables.items():
        with open(place + name, "wb") as file:
            file.write(text)
    done = subprocess.run(
        [*map(os.fsencode, COMMAND), b"report", place, b"--output", place + b"/out"],
        capture_output=True,
        timeout=300,
    )
    assert (done.returncode, done.stderr) == (0, b"")


def test_no_home_and_a_site_that_can_only_be_read(tmp_path: Path) -> None:
    """Without a home directory, or one that can be written, nothing changes."""
    done = _shell("unset HOME; $js orient $demo --output $out", out=str(tmp_path / "a.csv"))
    assert done.returncode == 0, done.stderr
    done = _shell("$js sets $demo --sets 1", HOME="/nonexistent")
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("asked", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("after_s", [0.8, 1.6])
def test_a_stop_is_one_line_and_130(asked: signal.Signals, after_s: float, tmp_path: Path) -> None:
    """Stopped from the keyboard or by the system: one line, exit 130, nothing written."""
    out = tmp_path / "out"
    # A child of a shell in the background would ignore the interrupt, one that outlives its terminal
    # the end of it; this one is told not to.
    code = (
        "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "signal.signal(signal.SIGHUP, signal.SIG_DFL)\n"
        "from jointstats.cli import main\n"
        "print('ready', flush=True); sys.exit(main())"
    )
    run = subprocess.Popen(
        [sys.executable, "-c", code, "report", str(DEMO), "--output", str(out)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert run.stdout is not None and run.stdout.readline() == "ready\n"
    time.sleep(after_s)
    run.send_signal(asked)
    _, told = run.communicate(timeout=300)
    assert (run.returncode, told) == (130, "stopped\n")
    assert not out.exists()
