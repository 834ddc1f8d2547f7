"""``lapwright face --batch``: its options, its progress, its closing lines."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from .common import print_json

if TYPE_CHECKING:
    from lapwright.services.batch import BatchResult, Step

F = TypeVar("F", bound=Callable[..., Any])
NAMES = ("batch", "out", "workers", "scheduler", "timeout_s")


def batch_options(function: F) -> F:
    """Add the options of a batch."""
    options = (
        click.option(
            "--batch",
            metavar="DIR|GLOB",
            help="Read every photograph of a folder with its subfolders, or of a pattern in "
            "quotes; ends and scale from sidecar files.",
        ),
        click.option(
            "--out",
            type=click.Path(path_type=Path, file_okay=False),
            help="With --batch: folder for faces.jsonl, faces.html and the overlays.",
        ),
        click.option(
            "--workers",
            type=click.IntRange(min=1),
            help="With --batch: processes at a time [default: all cores].",
        ),
        click.option(
            "--scheduler",
            metavar="tcp://…|tls://…",
            help="With --batch: a Dask cluster that you already run.",
        ),
        click.option(
            "--timeout",
            "timeout_s",
            type=click.FloatRange(min=0, min_open=True),
            help="With --batch: longest wait for one photograph, in seconds [default: 300].",
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


def check_usage(given: dict[str, Any], of_one: dict[str, Any]) -> None:
    """Refuse options that do not go together, as usage errors."""
    if given["batch"] is None:
        for name in NAMES:
            if given[name] is not None:
                raise click.UsageError(f"--{name.removesuffix('_s')} goes with --batch")
        if of_one["photo"] is None:
            raise click.UsageError("Missing argument 'PHOTO', or --batch DIR|GLOB.")
        return
    for name, value in of_one.items():
        if value is not None:
            shown = "PHOTO" if name == "photo" else "--" + name.replace("_", "-")
            raise click.UsageError(
                f"{shown} does not go with --batch; put a pattern in quotes, "
                "ends and scale in sidecar files"
            )
    if given["out"] is None:
        raise click.UsageError("--batch needs --out DIR")
    if given["scheduler"] is not None and given["workers"] is not None:
        raise click.UsageError("--workers does not go with --scheduler")


def read_batch(given: dict[str, Any], *, as_json: bool) -> None:
    """Read a batch, show how far it is, and say what is there."""
    from lapwright.services import batch
    from lapwright.services.workers import TIMEOUT_S, local_cores

    way = batch.Way(
        workers=given["workers"] or local_cores(),
        scheduler=given["scheduler"] or "",
        timeout_s=given["timeout_s"] or TIMEOUT_S,
    )
    with _progress() as told:
        result = batch.run_batch(given["batch"], given["out"], way=way, told=told)
    if as_json:
        print_json(result.as_dict())
    else:
        _say(result)
    if (refusal := result.incomplete()) is not None:
        click.echo(str(refusal), err=True)
        raise SystemExit(1)


def _say(result: BatchResult) -> None:
    from lapwright.services.text import word

    counts = {k: str(v) for k, v in result.as_dict().items() if isinstance(v, int)}
    click.echo(word("batch.done", **counts))
    click.echo(word("batch.written", faces=str(result.faces), page=str(result.page)))
    click.echo(word("face.claim"))


@contextlib.contextmanager
def _progress() -> Iterator[Callable[[Step], None]]:
    """A bar on a terminal, else a line for each photograph; both on standard error."""
    from lapwright.services.text import word

    if not sys.stderr.isatty():
        yield _line
        return
    with click.progressbar(
        length=0, label=word("batch.progress"), file=sys.stderr, show_pos=True
    ) as bar:

        def told(step: Step) -> None:
            bar.length = step.total
            bar.update(1)

        yield told


def _line(step: Step) -> None:
    from lapwright.services.text import word

    line = step.line
    if line["outcome"] == "measured":
        share = f"{100 * line['unbrazed_share']:.1f}"
        text = word("batch.step.measured", photo=line["photo"], share=share)
    else:
        text = word(f"batch.step.{line['outcome']}", photo=line["photo"], code=line["code"])
    click.echo(f"  {step.done} of {step.total}  {text}", err=True)
