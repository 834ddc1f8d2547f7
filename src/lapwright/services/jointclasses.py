"""Joint classes of a job: rows that no rule tells apart become one line, with its table figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from lapwright.core.errors import LapwrightError
from lapwright.core.outcomes import Finding
from lapwright.core.quantities import Quantity, length
from lapwright.reference.fillers import filler
from lapwright.reference.fittings import cup
from lapwright.reference.metals import p_number
from lapwright.reference.tube import tube
from lapwright.rules.coverparts import JointClass
from lapwright.rules.joblist import stand_ins
from lapwright.rules.materials import (
    FillerUse,
    FittingUse,
    TubeUse,
    judge_filler,
    judge_fitting,
    judge_tube_type,
)
from lapwright.rules.rulebook import Adopted

from .errors import JointLinesRefused
from .jointcells import MAKER
from .jointlist import JobRow, JointList

_TELLS = (
    "size",
    "tube",
    "type",
    "fitting",
    "overlap",
    "fitting_wall",
    "tube_metal",
    "fitting_metal",
    "filler",
    "form",
    "flux",
    "position",
    "procedure",
    "process",
    "manner",
    "joint_type",
)


@dataclass(frozen=True)
class ClassRows:
    """One class: what the rules see, the rows behind it, and its metals as words."""

    about: JointClass
    rows: tuple[JobRow, ...]
    metals: tuple[str, str]

    @property
    def joints(self) -> str:
        """The ids of the rows, with the number of joints each stands for."""
        return ", ".join(r.id if r.count == 1 else f"{r.id} ×{r.count}" for r in self.rows)

    @property
    def overlap(self) -> str:
        """The overlap as it is known: measured, or the table's least depth."""
        if self.about.overlap is not None:
            return self.about.overlap.text
        least = self.about.cup_least
        return f"≥ {least.text}" if least is not None else ""

    @property
    def label(self) -> str:
        """Size, tube and fitting on one line."""
        return f"{self.about.size} {self.about.tube_type} · {self.about.fitting}"


def classes_of(joints: JointList) -> tuple[ClassRows, ...]:
    """Return the classes of a job, ordered by size, tube, fitting, filler and position.

    Parameters
    ----------
    joints : JointList
        Rows that could be read.

    Raises
    ------
    JointLinesRefused
        For a row whose size, standard or filler the tables do not have.
    """
    grouped: dict[tuple[str, ...], list[JobRow]] = {}
    for row in joints.rows:
        grouped.setdefault(tuple(row.texts.get(name, "") for name in _TELLS), []).append(row)
    made = [_made(key, rows, joints.metals) for key, rows in grouped.items()]
    ordered = sorted(made, key=_order)
    width = max(2, len(str(len(ordered))))
    return tuple(
        replace(c, about=replace(c.about, id=f"C{n:0{width}d}")) for n, c in enumerate(ordered, 1)
    )


def _order(made: ClassRows) -> tuple[object, ...]:
    about = made.about
    od = tube(about.tube, about.size, type_=about.tube_type).od.inches
    rest = (about.tube, about.tube_type, about.fitting, about.filler, about.position)
    return (od, *rest, made.overlap, about.flux, *made.metals, about.procedure, about.form)


def _made(key: tuple[str, ...], rows: list[JobRow], metals: Mapping[str, str]) -> ClassRows:
    told = dict(zip(_TELLS, key, strict=True))
    try:
        about = _class(told, metals, sum(r.count for r in rows))
    except LapwrightError as refusal:
        raise JointLinesRefused(
            "a joint that the tables do not know",
            got=refusal.got,
            where=f"joint {rows[0].id}",
            expected=refusal.expected,
            do="Read the list again.",
        ) from refusal
    words = told["tube_metal"] or "copper", told["fitting_metal"]
    return ClassRows(about, tuple(sorted(rows, key=lambda r: r.row)), words)


def _class(told: Mapping[str, str], metals: Mapping[str, str], count: int) -> JointClass:
    row = tube(told["tube"], told["size"], type_=told["type"])
    measured = _length(told["overlap"])
    least = None
    if measured is None and told["fitting"] != MAKER:
        least = cup(told["fitting"], told["size"]).depth_min
    return JointClass(
        id="",
        size=told["size"],
        tube=told["tube"],
        tube_type=told["type"],
        fitting=told["fitting"],
        position=told["position"],
        p_numbers=(_p(told["tube_metal"], metals), _p(told["fitting_metal"], metals)),
        filler=told["filler"],
        f_number=filler(told["filler"]).f_number or "",
        overlap=measured,
        cup_least=least,
        tube_wall=row.wall_nominal,
        tube_minimum=row.wall_minimum,
        fitting_wall=_length(told["fitting_wall"]),
        stand_ins=stand_ins(told["size"]),
        process=told["process"],
        manner=told["manner"],
        form=told["form"],
        joint_type=told["joint_type"],
        flux=told["flux"],
        procedure=told["procedure"],
        count=count,
    )


def _length(text: str) -> Quantity | None:
    return length(text) if text else None


def _p(metal: str, metals: Mapping[str, str]) -> str:
    """Return the P-number of a metal word's alloy; empty where it is not named or not listed."""
    alloy = metals.get(metal, "")
    return (p_number(alloy).p_number or "") if alloy else ""


def class_findings(made: ClassRows, *, adopted: Adopted) -> Iterator[Finding]:
    """Yield what the rules say of the joint itself, whoever brazes it: filler, flux, type, fitting.

    Parameters
    ----------
    made : ClassRows
        The class.
    adopted : Adopted
        The adopted editions.
    """
    about = made.about
    if adopted.has("filler.family_copper") and all(made.metals):
        yield judge_filler(
            FillerUse(about.id, made.metals, about.filler, about.flux), adopted=adopted
        )
    if adopted.has("fittings.standards") and about.fitting != MAKER:
        use = FittingUse(about.id, about.fitting, size=about.size, tube_standard=about.tube)
        yield judge_fitting(use, adopted=adopted)
    pressures = {r.texts["pressure"] for r in made.rows if r.texts.get("pressure")}
    for text in sorted(pressures) if adopted.has("tube.type_k_size") else ():
        pressure = Quantity.parse(text, "pressure")
        line = TubeUse(about.id, about.tube, about.tube_type, about.size, pressure=pressure)
        yield judge_tube_type(line, adopted=adopted)
