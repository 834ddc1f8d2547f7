"""A batch: what is read, what is kept, what is refused, and what a kill leaves behind.

Longer than the house's size: every case shares one drawn folder and its helpers.
"""

from __future__ import annotations

import html.parser
import json
import os
import re
import shutil
import signal
import subprocess
import time
from dataclasses import replace
from pathlib import Path

import pytest

from batches.conftest import codes, command, lines, sidecar
from lapwright.measure import settings
from lapwright.services import batch as module
from lapwright.services.batchfile import canonical, open_results
from lapwright.services.errors import (
    BatchEmpty,
    BatchStopped,
    OutputRefused,
    ResultsBusy,
    ResultsDamaged,
    WorkerFailed,
)
from lapwright.services.facereading import read_photo


def nothing_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    def only_kept(function, items, **_):
        assert list(items) == []
        yield from ()

    monkeypatch.setattr(module, "map_over", only_kept)


# ------------------------------------------------------------------ what is read
def test_the_lines_say_what_one_photograph_alone_says(folder, tmp_path, batch, faces) -> None:
    out = tmp_path / "out"
    result = batch(folder, out)
    found = lines(out)
    assert [line["photo"] for line in found] == [f"../photos/{n}.jpg" for n in "abc"]
    for line, face in zip(found, faces, strict=False):
        ends = [tuple(round(v, 2) for v in end) for end in (face.tube_end, face.cup_face)]
        data = (folder / Path(line["photo"]).name).read_bytes()
        alone = read_photo(data, *ends).as_dict()
        assert {k: line[k] for k in ("unbrazed_share", "u", "interval95", "segments")} == {
            k: alone[k] for k in ("unbrazed_share", "u", "interval95", "segments")
        }
        assert abs(line["unbrazed_share"] - 0.13) < 0.05
        assert (out / line["overlay"]).read_bytes()[:2] == b"\xff\xd8"
    assert [line["id"] for line in found] == ["F-a", "F-b", ""]
    assert found[2]["overlap_mm"] == pytest.approx(found[2]["overlap_px"] / 80)
    assert result.as_dict() | {"faces": "", "page": ""} == {
        "outcome": "batch",
        "photos": 3,
        "measured": 3,
        "refused": 0,
        "unfinished": 0,
        "needs_reader": sum(bool(line["needs_reader"]) for line in found),
        "kept": 0,
        "faces": "",
        "page": "",
    }


def test_lines_are_canonical_and_every_run_writes_the_same_bytes(folder, tmp_path, batch) -> None:
    first, second = tmp_path / "one", tmp_path / "two"
    batch(folder, first, workers=1)
    batch(folder, second, workers=3)
    data = (first / "faces.jsonl").read_bytes()
    assert data == (second / "faces.jsonl").read_bytes()
    assert (first / "faces.html").read_bytes() == (second / "faces.html").read_bytes()
    for raw in data.split(b"\n")[:-1]:
        plain = json.dumps(json.loads(raw), sort_keys=True, separators=(",", ":"))
        assert json.loads(plain) == json.loads(raw)
        assert raw == canonical(json.loads(raw))


def test_a_bad_photograph_never_stops_the_run(folder, tmp_path, batch, pictures) -> None:
    (folder / "empty.jpg").touch()
    (folder / "text.png").write_text("no picture")
    (folder / "torn.jpg").write_bytes(pictures[0][: len(pictures[0]) // 2])
    (folder / "phone.heic").write_bytes(b"\0\0\0\x18ftypheic" + bytes(64))
    (folder / "slip.jpg").write_bytes(pictures[3])
    (folder / "slip.jpg.face.yaml").write_text("tube_end: [1, 2]\n")
    (folder / "off.jpg").write_bytes(pictures[3])
    (folder / "off.jpg.face.yaml").write_text("tube_end: [1, 2]\ncup_face: [9000, 2]\n")
    (folder / "gone.jpg.face.yaml").write_text("id: x\n")
    result = batch(folder, tmp_path / "out")
    assert codes(tmp_path / "out") == {
        "a.jpg": "",
        "b.jpg": "",
        "c.jpg": "",
        "empty.jpg": "MEAS-001",
        "text.png": "MEAS-001",
        "torn.jpg": "MEAS-002",
        "phone.heic": "MEAS-005",
        "slip.jpg": "BATCH-002",
        "off.jpg": "MEAS-008",
        "gone.jpg": "BATCH-004",
    }
    assert result.incomplete() is None
    done = [(step.done, step.total) for step in batch.steps]
    assert done == [(n, 10) for n in range(1, 11)]


def test_the_same_picture_twice_is_measured_once_and_named(
    folder, tmp_path, batch, pictures, faces
) -> None:
    for name in ("z.jpg", "zz.jpg"):
        shutil.copy(folder / "a.jpg", folder / name)
    (folder / "z.jpg.face.yaml").write_text(sidecar(faces[0], id="other"))
    (folder / "zz.jpg.face.yaml").write_text(sidecar(faces[0], overlap_mm="9"))
    batch(folder, tmp_path / "out")
    by_name = {Path(line["photo"]).name: line for line in lines(tmp_path / "out")}
    assert by_name["z.jpg"]["same_as"] == "../photos/a.jpg"
    assert by_name["z.jpg"]["key"] == by_name["a.jpg"]["key"]
    assert by_name["z.jpg"]["id"] == "other"
    assert by_name["zz.jpg"]["key"] != by_name["a.jpg"]["key"]
    assert by_name["zz.jpg"]["same_as"] == by_name["a.jpg"]["same_as"] == ""
    assert len(list((tmp_path / "out" / "overlays").iterdir())) == 4


def test_one_name_in_two_folders_is_two_photographs(folder, tmp_path, batch, pictures, faces):
    for number, sub in ((1, "left"), (3, "right")):
        (folder / sub).mkdir()
        (folder / sub / "a.jpg").write_bytes(pictures[number])
        (folder / sub / "a.jpg.face.yaml").write_text(sidecar(faces[number]))
    batch(folder, tmp_path / "out")
    found = {line["photo"]: line for line in lines(tmp_path / "out")}
    names = [f"../photos/{sub}a.jpg" for sub in ("", "left/", "right/")]
    assert len({found[name]["image_sha256"] for name in names}) == 3


def test_a_pattern_takes_what_it_names(folder, tmp_path, batch) -> None:
    (folder / "sub").mkdir()
    shutil.copy(folder / "a.jpg", folder / "sub" / "d.jpg")
    batch(folder / "[ab].*", tmp_path / "one")
    assert sorted(codes(tmp_path / "one")) == ["a.jpg", "b.jpg"]
    batch(folder / "**" / "*.jpg", tmp_path / "two")
    assert sorted(codes(tmp_path / "two")) == ["a.jpg", "b.jpg", "c.jpg", "d.jpg"]


def test_results_among_the_photographs_are_not_read_as_photographs(folder, batch) -> None:
    inside = batch(folder, folder / "out")
    again = batch(folder, folder / "out")
    assert (len(inside.lines), again.kept, len(again.lines)) == (3, 3, 3)
    other = batch(folder, folder / "other")  # an earlier folder of results is none of photographs
    assert len(other.lines) == 3
    assert len(batch(f"{folder}/**", folder.parent / "third").lines) == 3


def test_the_folder_of_the_photographs_takes_no_results(folder, batch) -> None:
    before = sorted(p.name for p in folder.iterdir())
    for what in (folder, folder.parent, folder / "a.jpg", folder / "*.jpg"):
        with pytest.raises(OutputRefused, match="ISSUE-001"):
            batch(what, folder)
    assert sorted(p.name for p in folder.iterdir()) == before


def test_batch_empty_is_refused(tmp_path, batch) -> None:
    for what in (tmp_path, tmp_path / "none", tmp_path / "*.jpg"):
        with pytest.raises(BatchEmpty):
            batch(what, tmp_path / "out")
    assert not (tmp_path / "out").exists()


# ------------------------------------------------------------------ going on
def test_results_already_there_are_not_measured_again(folder, tmp_path, batch, monkeypatch):
    out = tmp_path / "out"
    batch(folder, out)
    before = (out / "faces.jsonl").read_bytes()
    nothing_measured(monkeypatch)
    assert batch(folder, out).kept == 3
    assert (out / "faces.jsonl").read_bytes() == before


def test_a_renamed_photograph_and_a_new_id_are_not_measured_again(
    folder, tmp_path, batch, monkeypatch, faces
) -> None:
    out = tmp_path / "out"
    batch(folder, out)
    (folder / "a.jpg").rename(folder / "n.jpg")
    (folder / "a.jpg.face.yaml").unlink()
    (folder / "n.jpg.face.yaml").write_text(sidecar(faces[0], id="new"))
    nothing_measured(monkeypatch)
    result = batch(folder, out)
    assert [line["id"] for line in result.lines] == ["F-b", "", "new"]
    assert result.elsewhere == 1


def test_other_ends_bytes_or_method_are_measured_anew(
    folder, tmp_path, batch, monkeypatch, faces, pictures
) -> None:
    out = tmp_path / "out"
    batch(folder, out)
    (folder / "a.jpg.face.yaml").write_text(sidecar(faces[0], px_per_mm="90"))
    (folder / "b.jpg").write_bytes(pictures[1] + b"\0")
    assert batch(folder, out).kept == 1
    assert batch(folder, out).kept == 3
    other = replace(settings.DEFAULT, reader_rivalry=0.06)
    monkeypatch.setattr(settings, "DEFAULT", other)
    assert batch(folder, out).kept == 0


def test_lines_of_photographs_not_asked_for_stay(folder, tmp_path, batch) -> None:
    out = tmp_path / "out"
    batch(folder, out)
    result = batch(folder / "a.jpg", out)
    assert (len(result.lines), result.elsewhere) == (1, 2)
    assert len(lines(out)) == 3
    assert "this run did not ask for: 2" in result.page.read_text()


def test_a_run_killed_in_the_middle_goes_on(folder, tmp_path, batch, pictures, faces) -> None:
    for n in range(9):
        (folder / f"more{n:02}.jpg").write_bytes(pictures[3] + bytes(n + 1))
        (folder / f"more{n:02}.jpg.face.yaml").write_text(sidecar(faces[3]))
    out, whole = tmp_path / "out", tmp_path / "whole"
    args = command("face", "--batch", folder, "--out", out, "--workers", 2)
    with subprocess.Popen(args, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        until = time.monotonic() + 60
        while not ((out / "faces.jsonl").exists() and len(lines(out)) >= 2):
            assert time.monotonic() < until
            time.sleep(0.01)
        run.send_signal(signal.SIGKILL)
    done = len(lines(out))
    assert 2 <= done < 12
    assert not (out / "faces.html").exists()
    with (out / "faces.jsonl").open("ab") as torn:
        torn.write(b'{"asked":{"cup_face":[10')
    assert batch(folder, out).kept == done
    batch(folder, whole)
    assert (out / "faces.jsonl").read_bytes() == (whole / "faces.jsonl").read_bytes()


@pytest.mark.parametrize("tail", [b"{", b'{"asked":{"cup', bytes(80)])
def test_a_torn_last_line_is_dropped(folder, tmp_path, batch, tail: bytes) -> None:
    out = tmp_path / "out"
    batch(folder / "a.jpg", out)
    whole = (out / "faces.jsonl").read_bytes()
    (out / "faces.jsonl").write_bytes(whole + tail)
    with open_results(out) as results:
        assert results.dropped == 1
        assert len(results.lines) == 1
    assert (out / "faces.jsonl").read_bytes() == whole


@pytest.mark.parametrize("text", [b"notes of mine", b"notes\n", b'{"a":1}\n', b"[1]\n", b"\n"])
def test_results_damaged_are_never_written_over(folder, tmp_path, batch, text: bytes) -> None:
    (tmp_path / "out").mkdir()
    file = tmp_path / "out" / "faces.jsonl"
    file.write_bytes(text)
    with pytest.raises(ResultsDamaged, match="line 1"):
        batch(folder, tmp_path / "out")
    assert file.read_bytes() == text


def test_results_busy_while_another_run_holds_the_folder(folder, tmp_path, batch) -> None:
    (tmp_path / "out").mkdir()
    with open_results(tmp_path / "out"), pytest.raises(ResultsBusy):
        batch(folder, tmp_path / "out")
    assert len(batch(folder, tmp_path / "out").lines) == 3


def test_batch_stopped_keeps_what_is_done_and_says_how_to_go_on(folder, tmp_path, batch) -> None:
    def interrupt(step: module.Step) -> None:
        if step.done == 2:
            raise KeyboardInterrupt

    out = tmp_path / "out"
    way = module.Way(workers=1)
    with pytest.raises(BatchStopped, match=r"2 of 3 photographs.*Run the same command again"):
        module.run_batch(str(folder), out, way=way, told=interrupt)
    assert len(lines(out)) == 2
    assert batch(folder, out).kept == 2


def test_control_c_ends_the_command_with_one_line(folder, tmp_path, pictures, faces) -> None:
    for n in range(80):  # long enough to be at work still, on a busy machine too
        (folder / f"more{n:02}.jpg").write_bytes(pictures[3] + bytes(n + 1))
        (folder / f"more{n:02}.jpg.face.yaml").write_text(sidecar(faces[3]))
    out = tmp_path / "out"
    args = command("face", "--batch", folder, "--out", out)
    with subprocess.Popen(
        args, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    ) as run:
        assert run.stderr is not None
        for _ in range(3):
            run.stderr.readline()
        os.killpg(run.pid, signal.SIGINT)  # as a terminal does: to every process of the run
        said = run.stderr.read()
        assert run.wait(30) == 1
    last = said.strip().splitlines()[-1]
    assert last.endswith("it goes on where it stopped. [BATCH-007]")
    assert "Traceback" not in said
    assert lines(out)


# ------------------------------------------------------------------ what fails
def test_batch_incomplete_when_the_program_fails_and_the_next_run_tries_again(
    folder, tmp_path, batch, monkeypatch
) -> None:
    fault = WorkerFailed("broke", got="x", expected="y", do="Z.")

    def broken_at_the_second(function, items, **_):
        for place, item in enumerate(items):
            yield place, fault if place == 1 else function(item)

    with monkeypatch.context() as patch:
        patch.setattr(module, "map_over", broken_at_the_second)
        result = batch(folder, tmp_path / "out")
    refusal = result.incomplete()
    assert refusal is not None
    assert "1 of 3 (BATCH-009), first ../photos/b.jpg" in str(refusal)
    assert [line["outcome"] for line in result.lines] == ["measured", "unfinished", "measured"]
    again = batch(folder, tmp_path / "out")
    assert again.kept == 2
    assert again.incomplete() is None


def test_a_twin_met_after_its_picture_came_back_unfinished_is_tried_itself(
    folder, tmp_path, batch, monkeypatch
) -> None:
    shutil.copy(folder / "a.jpg", folder / "z.jpg")
    shutil.copy(folder / "a.jpg.face.yaml", folder / "z.jpg.face.yaml")
    fault = WorkerFailed("broke", got="x", expected="y", do="Z.")

    def broken_at_the_first(function, items, **_):
        for place, item in enumerate(items):
            yield place, function(item) if place else fault

    monkeypatch.setattr(module, "map_over", broken_at_the_first)
    result = batch(folder, tmp_path / "out")
    found = {Path(line["photo"]).name: line["outcome"] for line in result.lines}
    assert found["a.jpg"] == "unfinished"
    assert found["z.jpg"] == "measured"


def test_photo_changed_while_the_run_goes_on_is_tried_again(
    folder, tmp_path, batch, monkeypatch, pictures
) -> None:
    real = module.map_over

    def changing(function, items, **how):
        def changed():
            for item in items:
                if item["path"].endswith("b.jpg"):
                    Path(item["path"]).write_bytes(pictures[3])
                yield item

        return real(function, changed(), **how)

    monkeypatch.setattr(module, "map_over", changing)
    result = batch(folder, tmp_path / "out")
    assert [line["code"] for line in result.lines] == ["", "BATCH-015", ""]
    assert result.incomplete() is not None


# ------------------------------------------------------------------ the command and the page
def test_the_command_tells_each_photograph_and_sums_up(folder, tmp_path, shell) -> None:
    (folder / "bad.jpg").write_text("no")
    done = shell("face", "--batch", folder, "--out", tmp_path / "out", "--workers", 1)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[0].startswith("Photographs 4: measured 3 ")
    assert "No accuracy on real coupons is claimed" in done.stdout
    told = done.stderr.splitlines()
    assert len(told) == 4
    assert any("../photos/bad.jpg: refused, MEAS-001" in line for line in told)
    again = shell("face", "--batch", folder, "--out", tmp_path / "out", "--json")
    document = json.loads(again.stdout)
    assert (document["kept"], document["refused"]) == (4, 1)


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ((), "PHOTO"),
        (("a.jpg", "--batch", "b"), "PHOTO does not go with --batch"),
        (("--batch", "b"), "--out"),
        (("--batch", "b", "--out", "o", "--tube-end", "1,2"), "--tube-end does not go with"),
        (("a.jpg", "--workers", "2"), "--workers goes with --batch"),
        (("--batch", "b", "--out", "o", "--workers", "0"), "--workers"),
        (
            ("--batch", "b", "--out", "o", "--workers", "2", "--scheduler", "tcp://h:1"),
            "--scheduler",
        ),
    ],
)
def test_options_that_do_not_go_together_are_usage_errors(args, said: str, shell) -> None:
    done = shell("face", *args)
    assert done.returncode == 2
    assert said in done.stderr


def test_odd_bytes_in_names_are_spelt_out_and_links_count_once(folder, tmp_path, batch) -> None:
    for name in (b"\xff.jpg", b"\xfe.jpg", b"\xff.jpg.face.yaml"):
        Path(os.fsdecode(os.fsencode(folder) + b"/" + name)).write_text("no: picture")
    (folder / "again").symlink_to(folder)
    batch(folder / "**" / "*.jpg", tmp_path / "out")
    assert sorted(codes(tmp_path / "out").items()) == [
        ("\\udcfe.jpg", "MEAS-001"),
        ("\\udcff.jpg", "BATCH-002"),
        ("a.jpg", ""),
        ("b.jpg", ""),
        ("c.jpg", ""),
    ]
    assert batch.steps[-1].done == batch.steps[-1].total == 5


class Page(html.parser.HTMLParser):
    """Collects what a page would fetch, and what it says."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.fetched: list[str] = []
        self.said = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.fetched += [value or "" for name, value in attrs if name == "src"]

    def handle_data(self, data: str) -> None:
        self.said += data


def test_the_page_needs_no_script_no_network_and_escapes_names(
    folder, tmp_path, batch, pictures
) -> None:
    evil = "<b onload=x>&' .jpg"
    (folder / evil).write_bytes(b"no picture")
    (folder / "line\u2028end\x1b[31m.jpg").write_bytes(b"no picture")
    out = tmp_path / "out"
    result = batch(folder, out)
    text = result.page.read_text(encoding="utf-8")
    page = Page(text)
    assert "script" not in page.tags
    assert "<b onload" not in text
    assert f"photos/{evil}" in page.said
    assert "\x1b" not in text
    assert "http" not in text.replace("http-equiv", "")
    assert len(page.fetched) == 3
    assert all((out / way).is_file() for way in page.fetched)
    assert "Refused" in page.said
    assert "[MEAS-001]" in page.said
    assert page.tags.index("svg") > 0
    said = Page(text.split("</style>")[1]).said
    assert re.search(r"\d\u00a0%", said)
    assert not re.search(r"\d ?%", said)  # no number is parted from its sign
    assert "No accuracy on real coupons is claimed" in page.said
    assert len((out / "faces.jsonl").read_text(encoding="utf-8").splitlines()) == 5
