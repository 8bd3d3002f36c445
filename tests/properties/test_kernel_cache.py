"""Folders of compiled kernels: new ones are made, used ones stay, and those of earlier sources go after a month."""

import os
import subprocess
import sys
import time
from pathlib import Path

import platformdirs
import pytest

from noonhearth.model import compiled
from noonhearth.model.compiled import cache_folder, prune

DAY = 86_400.0
OLD, NEW, OTHER = ("heat-" + 16 * digit for digit in "abc")


@pytest.fixture
def kernels(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty cache of our own."""
    monkeypatch.setattr(platformdirs, "user_cache_dir", lambda *_, **__: str(tmp_path))
    (tmp_path / "kernels").mkdir()
    return tmp_path / "kernels"


def used(folder: Path, days_ago: float) -> Path:
    """A folder with a kernel in it, last used some days ago."""
    folder.mkdir()
    (folder / "march.1.nbc").write_bytes(b"machine code")
    then = time.time() - days_ago * DAY
    os.utime(folder, (then, then))
    return folder


def test_only_what_is_long_unused_goes(kernels: Path) -> None:
    used(kernels / OLD, 31)
    used(kernels / NEW, 29)
    assert prune(kernels, "heat") == [OLD]
    assert [folder.name for folder in kernels.iterdir()] == [NEW]


@pytest.mark.parametrize(
    "name", ["food-" + 16 * "a", "heat-mine", "heat", "heat_two-" + 16 * "a", OLD + "0", OLD + ".bak"]
)
def test_what_is_not_a_kernel_folder_of_the_package_stays(kernels: Path, name: str) -> None:
    used(kernels / name, 400)
    assert prune(kernels, "heat") == []
    assert (kernels / name / "march.1.nbc").exists()


def test_a_removal_that_was_cut_short_is_finished(kernels: Path) -> None:
    used(kernels / f"{OLD}.old-123", 40)
    used(kernels / f"{NEW}.old-124", 1)  # somebody is at it
    assert prune(kernels, "heat") == [f"{OLD}.old-123"]
    assert [folder.name for folder in kernels.iterdir()] == [f"{NEW}.old-124"]


def test_a_folder_taken_into_use_at_the_last_moment_is_put_back(
    kernels: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = used(kernels / OLD, 31)
    rename = Path.rename

    def used_just_before(self: Path, target: Path) -> Path:
        if self == folder:
            os.utime(folder)
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", used_just_before)
    assert prune(kernels, "heat") == []
    assert (folder / "march.1.nbc").exists()


def test_a_folder_another_process_took_first_is_no_fault(
    kernels: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    used(kernels / OLD, 31)
    used(kernels / OTHER, 31)
    rename = Path.rename

    def gone(self: Path, target: Path) -> Path:
        if self.name == OLD:
            rename(self, self.with_name("elsewhere"))
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", gone)
    assert prune(kernels, "heat") == [OTHER]


def test_a_new_folder_prunes_and_a_known_one_does_not(kernels: Path) -> None:
    stale = used(kernels / OLD, 100)
    first = cache_folder.__wrapped__("heat")
    assert first is not None
    assert first.parent == kernels
    assert not stale.exists()
    used(stale, 100)
    os.utime(first, (0, 0))
    assert cache_folder.__wrapped__("heat") == first
    assert stale.exists()
    assert time.time() - first.stat().st_mtime < 60  # asking for it marks it as used


def test_no_place_to_write_is_no_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setattr(platformdirs, "user_cache_dir", lambda *_, **__: str(tmp_path / "file"))
    assert cache_folder.__wrapped__("heat") is None


def test_processes_that_prune_together_do_not_stumble(kernels: Path) -> None:
    for digit in "0123456789abcdef":
        used(kernels / ("heat-" + 16 * digit), 50)
    fresh = used(kernels / ("heat-" + 8 * "01"), 1)
    code = (
        "import sys, importlib.util as u; s = u.spec_from_file_location('compiled', sys.argv[1]); "
        "m = u.module_from_spec(s); s.loader.exec_module(m); from pathlib import Path; "
        "print(len(m.prune(Path(sys.argv[2]), 'heat')))"
    )
    command = [sys.executable, "-c", code, compiled.__file__, str(kernels)]
    processes = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(3)]
    counts = [int(process.communicate()[0]) for process in processes]
    assert [process.returncode for process in processes] == [0, 0, 0]
    assert sum(counts) >= 16  # two may have a hand in one
    assert list(kernels.iterdir()) == [fresh]
