"""The result file: a round trip to the bit, and every way of being damaged found out."""

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import h5netcdf
import numpy as np
import pytest
import xarray as xr

from noonhearth.studies.judging.outcomes import Columns, Outcomes, Output
from noonhearth.studies.judging.space import Parameter, Space, row_count
from noonhearth.studies.methods.search import Goal, search
from noonhearth.studies.methods.sensitivity import morris, sobol
from noonhearth.studies.results.content import content_hash
from noonhearth.studies.results.description import describe
from noonhearth.studies.results.kept_files import kept_files, with_files, without_files
from noonhearth.studies.results.provenance import Provenance, ProvenanceError, stamp, text_hash
from noonhearth.studies.results.sealed import write_sealed
from noonhearth.studies.results.store import FORMAT_VERSION, StoreError, read, write

CONFIG = 'title = "forty ovens"\nplace = "Ñandú hill"\n' + "# a long remark\n" * 6000  # above 64 KiB


def _provenance(**changes: object) -> Provenance:
    fields: dict[str, object] = {
        "title": "forty ovens",
        "config": CONFIG,
        "model_hash": "ab12",
        "versions": {"noonhearth": "0.1.0", "numpy": np.__version__},
        "seed": 3,
        "created": "2026-03-01T12:00:00Z",
        "counts": {"designs": 3},
    }
    return Provenance(**(fields | changes))  # type: ignore[arg-type]


def _text(unit: str, meaning: str) -> dict[str, str]:
    return {"units": unit, "long_name": meaning}


def _dataset() -> xr.Dataset:
    hours = np.array(["2026-06-21T09:00", "2026-06-21T09:01"], dtype="datetime64[ns]")
    return stamp(
        xr.Dataset(
            {
                "boil_time": ("design", np.array([3600.0, np.nan, 1e-300]), _text("s", "time to boil")),
                "held": (("design", "time"), np.arange(6.0).reshape(3, 2) / 7.0, _text("min", "time held")),
                "peak": ("design", np.array([371.25, 380.5, 0.1], dtype=np.float32), _text("K", "peak")),
                "status": ("design", np.array([0, 2, 0]), _text("1", "outcome")),
                "on_front": ("design", np.array([1, 0, 1], dtype=np.int8), _text("1", "on the front")),
                "total": ((), 2.5, _text("kg", "mass of all")),
            },
            coords={
                "mirror": ("design", ["foil", "glass", "Spiegel-Blech für außen"], _text("1", "mirror")),
                "time": ("time", hours, {"long_name": "UTC, middle of the minute"}),
            },
            attrs={"seed": 3, "reference": [1.5, 2.5], "remark": ""},
        ),
        _provenance(),
    )


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("store") / "result.nc"
    write(_dataset(), path)
    return path.read_bytes()


def test_round_trip(tmp_path: Path) -> None:
    path = tmp_path / "result.nc"
    original = _dataset()
    write(original, path)
    assert [p.name for p in tmp_path.iterdir()] == ["result.nc"]
    back = read(path)
    xr.testing.assert_equal(back, original)
    for name, variable in original.variables.items():
        assert back[name].dtype.kind == variable.dtype.kind
        assert back[name].attrs == variable.attrs
        if variable.dtype.kind in "iuf":
            assert back[name].dtype == variable.dtype
            assert back[name].values.tobytes() == variable.values.tobytes()
    assert back.attrs["config"] == CONFIG
    assert json.loads(back.attrs["versions"])["noonhearth"] == "0.1.0"
    assert back.attrs["seed"] == 3
    assert back.attrs["reference"].tolist() == [1.5, 2.5]
    assert (back.attrs["format"], back.attrs["format_version"]) == ("noonhearth result", 2)


def test_what_was_read_can_be_written_again_to_the_same_bytes(tmp_path: Path, whole: bytes) -> None:
    first, second = tmp_path / "a.nc", tmp_path / "b.nc"
    first.write_bytes(whole)
    write(read(first), second)
    assert second.read_bytes() == whole


def test_the_file_may_be_read_by_whom_any_new_file_may(tmp_path: Path) -> None:
    write(_dataset(), tmp_path / "result.nc")
    (tmp_path / "other").touch()
    assert (tmp_path / "result.nc").stat().st_mode == (tmp_path / "other").stat().st_mode


def test_any_netcdf_reader_opens_it(tmp_path: Path, whole: bytes) -> None:
    path = tmp_path / "result.nc"
    path.write_bytes(whole)
    with xr.open_dataset(path) as opened:
        assert opened["mirror"].values.tolist() == ["foil", "glass", "Spiegel-Blech für außen"]
        assert opened["boil_time"].dtype == np.float64
        assert opened["boil_time"].attrs["units"] == "s"
        assert opened["time"].dtype.kind == "M"
        assert opened.attrs["config"] == CONFIG
    with h5netcdf.File(path) as raw:
        assert not raw.groups
        assert raw["held"].dimensions == ("design", "time")


def test_results_of_every_study_can_be_kept(tmp_path: Path) -> None:
    space = Space(
        (
            Parameter(name="x", kind="real", low=0.0, high=1.0, meaning="x"),
            Parameter(name="word", kind="choice", choices=("a", "bc"), meaning="word"),
        )
    )

    def evaluate(columns: Columns) -> Outcomes:
        y = columns["x"] + (columns["word"] == "a")
        y = np.where(columns["x"] > 0.99, np.nan, y)
        status = np.isnan(y).astype(np.int64)
        return Outcomes(values={"y": y}, status=status, margins={})

    assert row_count({"x": np.zeros(3)}) == 3
    outputs = [Output(name="y", unit="m", meaning="y")]
    results = {
        "search": search(
            space,
            evaluate,
            goals=[Goal(name="y", unit="m", meaning="y", direction="minimize")],
            trials=16,
            population=8,
            seed=3,
        ),
        "sobol": sobol(space, evaluate, outputs=outputs, base_samples=64, seed=3, second_order=True),
        "morris": morris(space, evaluate, outputs=outputs, trajectories=16, seed=3, most_dropped=0.5),
    }
    for name, dataset in results.items():
        path = tmp_path / f"{name}.nc"
        write(stamp(dataset, _provenance()), path)
        xr.testing.assert_equal(read(path), dataset)


def _broken(change: str) -> xr.Dataset:
    data = _dataset()
    flag = ("design", [True, False, True], _text("1", "yes or no"))
    wait = ("design", np.array([1, 2, 3], dtype="timedelta64[ns]"), _text("1", "a wait"))
    bag = ("design", np.array([{1}, "a", 2.0], dtype=object), _text("1", "anything"))
    match change:
        case "units":
            del data["peak"].attrs["units"]
        case "long_name":
            data["mirror"].attrs["long_name"] = ""
        case "bool":
            data["flag"] = flag
        case "duration":
            data["wait"] = wait
        case "object":
            data["bag"] = bag
        case "hash":
            data.attrs["config"] += "changed"
        case "naive" | "yesterday" | "zone":
            times = {
                "naive": "2026-03-01 12:00",
                "yesterday": "yesterday",
                "zone": "2026-03-01T12:00:00+02:00",
            }
            data.attrs["created"] = times[change]
        case "missing":
            del data.attrs["model_hash"]
        case "attribute bool":
            data.attrs["converged"] = True
        case "attribute None":
            data.attrs["note"] = None
        case "attribute dict":
            data["peak"].attrs["by"] = {"a": 1}
        case "attribute words":
            data.attrs["words"] = ["a", "b"]
    return data


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ("units", "variable peak: has no units"),
        ("long_name", "variable mirror: has no long_name"),
        ("bool", "variable flag: true and false are not kept; use int8"),
        ("duration", "variable wait: durations are kept as plain seconds"),
        ("object", "variable bag: cannot hold values of type object"),
        ("hash", "config_hash is not the hash of config"),
        ("naive", "created is not a time in UTC"),
        ("yesterday", "created is not a time in UTC"),
        ("zone", "created is not a time in UTC"),
        ("missing", "attribute model_hash is missing"),
        ("attribute bool", "attribute converged is true or false; use 1 and 0"),
        ("attribute None", "attribute note is None; leave it out"),
        ("attribute dict", "variable peak: attribute by is a dict; use text (JSON"),
        ("attribute words", "attribute words is a list; use text (JSON"),
    ],
)
def test_what_may_not_be_kept_is_named(tmp_path: Path, change: str, sentence: str) -> None:
    path = tmp_path / "result.nc"
    with pytest.raises(StoreError) as refusal:
        write(_broken(change), path)
    assert sentence in str(refusal.value)
    assert list(tmp_path.iterdir()) == []


def test_all_faults_are_named_at_once(tmp_path: Path) -> None:
    with pytest.raises(StoreError) as refusal:
        write(xr.Dataset({"a": 1.0}), tmp_path / "result.nc")
    for part in ("attribute title", "attribute config ", "attribute counts", "variable a: has no units"):
        assert part in str(refusal.value)


def test_a_seed_that_contradicts_itself_is_refused() -> None:
    with pytest.raises(ProvenanceError, match="made with seed 3, its provenance says 4"):
        stamp(_dataset(), _provenance(seed=4))
    assert (
        text_hash("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )  # FIPS 180-2, B.1


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="there is no folder"):
        write(_dataset(), tmp_path / "nowhere" / "result.nc")


@pytest.mark.parametrize("call", ["sealed.os.replace", "sealed.os.fsync", "store.encoding_of"])
def test_a_write_that_fails_leaves_the_old_file_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, whole: bytes, call: str
) -> None:
    path = tmp_path / "result.nc"
    path.write_bytes(whole)

    def no_space(*_: object) -> None:
        raise OSError("no space left on device")

    monkeypatch.setattr(f"noonhearth.studies.results.{call}", no_space)
    with pytest.raises(OSError, match="no space left"):
        write(_dataset().assign_attrs(remark="newer"), path)
    assert [p.name for p in tmp_path.iterdir()] == ["result.nc"]
    assert path.read_bytes() == whole


def test_an_interrupted_write_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(xr.Dataset, "to_netcdf", stop)
    with pytest.raises(KeyboardInterrupt):
        write(_dataset(), tmp_path / "result.nc")
    assert list(tmp_path.iterdir()) == []


def test_a_file_cut_off_anywhere_is_found_out(tmp_path: Path, whole: bytes) -> None:
    path = tmp_path / "result.nc"
    offsets = np.unique(np.linspace(0, len(whole) - 1, 120).astype(int))
    for length in [*offsets.tolist(), 1, 7, 8, 9, 47, 48, 95, 96, len(whole) - 2]:
        path.write_bytes(whole[:length])
        with pytest.raises(StoreError, match=r"is empty|is damaged|not a netCDF-4 file|but no result"):
            read(path)


def test_a_byte_changed_anywhere_is_found_out(tmp_path: Path, whole: bytes) -> None:
    path = tmp_path / "result.nc"
    random = np.random.default_rng(1)
    for place in [0, len(whole) - 1, *random.integers(0, len(whole), 300).tolist()]:
        changed = whole[place] ^ int(random.integers(1, 256))
        path.write_bytes(whole[:place] + bytes([changed]) + whole[place + 1 :])
        with pytest.raises(StoreError, match=r"is damaged|not a netCDF-4 file"):
            read(path)
    path.write_bytes(whole + b"more")
    with pytest.raises(StoreError, match="is damaged"):
        read(path)


def test_a_number_changed_inside_is_found_out(tmp_path: Path, whole: bytes) -> None:
    place = whole.index(np.float64(3600.0).tobytes())
    path = tmp_path / "result.nc"
    path.write_bytes(whole[:place] + np.float64(3601.0).tobytes() + whole[place + 8 :])
    with pytest.raises(StoreError, match="is damaged, or was changed by another program"):
        read(path)
    with xr.open_dataset(path) as opened:  # a plain reader cannot tell
        assert float(opened["boil_time"][0]) == 3601.0


def test_other_files_are_recognised(tmp_path: Path) -> None:
    missing, text, foreign = tmp_path / "no.nc", tmp_path / "notes.nc", tmp_path / "foreign.nc"
    with pytest.raises(StoreError, match="there is no file"):
        read(missing)
    with pytest.raises(StoreError, match="is a folder"):
        read(tmp_path)
    text.write_text("title,config\n1,2\n")
    with pytest.raises(StoreError, match="not a netCDF-4 file, so no result of this program"):
        read(text)
    xr.Dataset({"a": ("x", [1.0, 2.0])}).to_netcdf(foreign, engine="h5netcdf")
    with pytest.raises(StoreError, match="a netCDF file, but no result of this program"):
        read(foreign)


def test_a_newer_format_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "newer.nc"
    monkeypatch.setattr("noonhearth.studies.results.store.FORMAT_VERSION", FORMAT_VERSION + 1)
    write(_dataset(), path)
    monkeypatch.undo()
    newer = f"format version {FORMAT_VERSION + 1}; .*up to version {FORMAT_VERSION}: update noonhearth"
    with pytest.raises(StoreError, match=newer):
        read(path)


def test_the_first_format_is_read(tmp_path: Path) -> None:
    """As version 1 wrote it: no hash of the content, no base design."""
    path = tmp_path / "older.nc"
    older = _dataset().drop_attrs(deep=False).assign_attrs(_dataset().attrs)
    older = older.assign_attrs(format="noonhearth result", format_version=1)
    del older.attrs["base_design"]
    write_sealed(path, lambda partial: older.to_netcdf(partial, engine="h5netcdf"))
    xr.testing.assert_equal(read(path), older)


def test_numbers_changed_under_a_new_seal_are_found_out(tmp_path: Path, whole: bytes) -> None:
    """A program that computes the seal anew, but changed a number."""
    place = whole.index(np.float64(3600.0).tobytes())
    body = whole[: whole.rindex(b"\nnoonhearth sha256 ")]
    path = tmp_path / "result.nc"
    write_sealed(
        path,
        lambda partial: partial.write_bytes(body[:place] + np.float64(3601.0).tobytes() + body[place + 8 :]),
    )
    with pytest.raises(StoreError, match="does not hold the numbers"):
        read(path)


def test_the_hash_of_the_content_follows_the_document(whole: bytes, tmp_path: Path) -> None:
    """Computed here by the words of docs/results-format.md, with h5netcdf and hashlib alone."""
    path = tmp_path / "result.nc"
    path.write_bytes(whole)
    kinds = {"f8": "f8", "f4": "f4", "i8": "i8", "i1": "i1"}
    digest = hashlib.sha256()
    plain = {"ensure_ascii": False}
    netcdf_own = ("_FillValue", "coordinates", "calendar")

    def attributes(held: Any, but: tuple[str, ...]) -> None:
        for name in sorted(set(held) - set(but)):
            value = held[name]
            value = value.tolist() if hasattr(value, "tolist") else value
            value = value[0] if isinstance(value, list) and len(value) == 1 else value
            digest.update(f"attribute {name} {json.dumps(value, **plain)}\n".encode())

    with h5netcdf.File(path) as raw:
        for name in sorted(raw.variables):
            variable = raw.variables[name]
            shape = " ".join(f"{d} {n}" for d, n in zip(variable.dimensions, variable.shape, strict=True))
            own = netcdf_own
            if name == "time":
                kind, held = "time", variable[...].astype("<i8").tobytes()
                own += ("units",)
            elif name == "mirror":
                kind, held = "text", b"".join(text + b"\0" for text in variable[...])
            else:
                kind = kinds[variable.dtype.str.lstrip("<|")]
                held = np.asarray(variable[...]).astype(f"<{kind}").tobytes()
            digest.update(f"variable {name} ({shape}) {kind}\n".encode() + held)
            attributes(variable.attrs, own)
        apart = ("created", "format", "format_version", "content_hash", "_NCProperties", "coordinates")
        attributes(raw.attrs, apart)
        assert digest.hexdigest() == raw.attrs["content_hash"]


def test_the_hash_of_the_content_is_of_what_is_said_not_of_when(tmp_path: Path) -> None:
    one = content_hash(_dataset())
    assert content_hash(_dataset().assign_attrs(created="2027-03-01T12:00:00Z")) == one
    for other in (
        _dataset().assign_attrs(seed=4),
        _dataset().rename(peak="top"),
        _dataset().isel(design=[1, 0, 2]),
        _dataset().drop_vars("total"),
        _dataset().transpose("time", "design"),
        _dataset().assign_coords(mirror=("design", ["foil", "glass", "card"], _text("1", "mirror"))),
    ):
        assert content_hash(other) != one


KILLED = """
import itertools, os, random, signal, sys, time
from pathlib import Path
from noonhearth.studies.results.store import read, write

path, moments = Path(sys.argv[1]), random.Random(5)
dataset = read(path)
write(dataset.assign_attrs(number=0), path)
began = time.monotonic()
write(dataset.assign_attrs(number=0), path)
lasts = time.monotonic() - began
for kill in range(200):  # on a busy machine it takes more of them until the writer gets through a few times
    before = read(path).attrs["number"]
    if kill >= 40 and before > 2:
        break
    writer = os.fork()
    if writer == 0:
        for number in itertools.count(before + 1):
            write(dataset.assign_attrs(number=number), path)
    time.sleep(moments.uniform(0.0, 2.5 * lasts))
    os.kill(writer, signal.SIGKILL)
    os.waitpid(writer, 0)
    print(before, read(path).attrs["number"], [p.name for p in path.parent.glob("[!.]*")])
"""


def test_a_killed_writer_leaves_the_old_file_or_the_new_one(tmp_path: Path, whole: bytes) -> None:
    """A process that writes over and over, killed at forty random moments or more; each time the file is whole."""
    path = tmp_path / "result.nc"
    path.write_bytes(whole)
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    told = [line.split(maxsplit=2) for line in done.stdout.splitlines()]
    assert len(told) >= 40
    assert all(int(after) >= int(before) and names == "['result.nc']" for before, after, names in told)
    assert int(told[-1][1]) > 2  # they did write
    partials = [p for p in tmp_path.iterdir() if p.name.startswith(".")]
    assert partials  # some were killed in the middle
    for partial in partials:
        os.utime(partial, (1.0, 1.0))  # from long ago
    write(read(path), path)
    assert [p.name for p in tmp_path.iterdir()] == ["result.nc"]


def test_files_are_kept_to_the_byte(tmp_path: Path) -> None:
    files = {
        "mine.toml": b"\x00\xff[mirrors]\r\n",
        "../weather/year.epw": bytes(range(256)) * 4000,
        "none": b"",
    }
    path = tmp_path / "result.nc"
    write(with_files(_dataset(), files), path)
    back = read(path)
    assert kept_files(back) == files
    assert path.stat().st_size < 200_000  # a million bytes, packed
    assert content_hash(without_files(back)) == content_hash(_dataset())
    with xr.open_dataset(path) as plain:  # nothing of ours needed
        assert plain["file_1"].values.tobytes() == files[plain["file_1"].attrs["file_name"]]


def test_what_cannot_be_read_is_not_called_damage(
    tmp_path: Path, whole: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "result.nc"
    path.write_bytes(whole)

    def refused(_: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refused)
    with pytest.raises(StoreError, match=r"result\.nc cannot be read: Permission denied"):
        read(path)


def test_a_description_names_every_variable(whole: bytes, tmp_path: Path) -> None:
    path = tmp_path / "result.nc"
    path.write_bytes(whole)
    text = describe(read(path))
    assert text.startswith("forty ovens\ncreated: 2026-03-01T12:00:00Z\nseed: 3\n")
    rows = {line.split()[0]: line for line in text.splitlines()[5:]}
    assert set(rows) == {"name", *map(str, _dataset().variables)}
    assert "design 3 x time 2" in rows["held"]
    assert rows["boil_time"].split()[3:6] == ["s", "1e-300", "3600"]
    assert "Spiegel-Blech" in rows["mirror"]
    assert rows["time"].endswith("UTC, middle of the minute")
    assert describe(xr.Dataset({"a": ("x", [np.nan])})).splitlines()[-1].split()[:5] == [
        "a",
        "x",
        "1",
        "-",
        "-",
    ]
