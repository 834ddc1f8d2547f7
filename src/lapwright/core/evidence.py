"""Evidence: what is known on a day, frozen; rules see this and nothing else.

Made by `lapwright.core.fold.fold`. Fields that were never recorded are empty
text, ``None`` or an empty tuple; a rule that needs one answers ``needs-data``.
Shares are exact decimals between 0 and 1; quantities keep their unit. Longer than
the house's size: frozen values without logic, read as one vocabulary.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from .quantities import Quantity

Texts = Mapping[str, str]
FOUND_ALONE = "found-alone"  # the ends of a face that the program found without being shown any


@dataclass(frozen=True)
class RangeTable:
    """Sizes that a programme has adopted, under signature, for a coupon kind."""

    id: str
    coupon_kind: str
    sizes: tuple[str, ...]
    adopted_by: str
    adopted_on: date
    fitting_walls: Mapping[str, Quantity] = field(default_factory=dict)


@dataclass(frozen=True)
class RuleTick:
    """A person compared one figure of the booklet with their own copy."""

    rule: str
    figure: str
    by: str
    on: date
    copy: str


@dataclass(frozen=True)
class Basis:
    """The adopted editions and the chosen readings of a programme."""

    editions: tuple[str, ...]
    decision_rule: str
    thickness_readings: tuple[str, ...]
    adopted_on: date
    adopted_by: str
    options: Texts
    ticks: tuple[RuleTick, ...] = ()
    range_tables: tuple[RangeTable, ...] = ()

    def option(self, name: str) -> str:
        """Return an option of the basis, or empty text when it was not chosen."""
        return self.options.get(name, "")


@dataclass(frozen=True)
class Person:
    """A person of the programme; the name stands behind ``commitment``."""

    id: str
    role: str
    commitment: str
    employer: str = ""


@dataclass(frozen=True)
class Instrument:
    """An instrument with its resolution, the day its calibration ends, and all calibrations."""

    id: str
    kind: str
    resolution: str
    calibrated_until: date | None
    calibrations: tuple[date, ...] = ()


@dataclass(frozen=True)
class Pqr:
    """What happened when the procedure's own coupon was brazed: actual values."""

    id: str
    overlap: Quantity | None
    tube_wall: Quantity | None
    fitting_wall: Quantity | None
    p_numbers: tuple[str, ...]
    f_number: str
    form: str
    flux: str
    positions: tuple[str, ...]


@dataclass(frozen=True)
class Procedure:
    """The brazing procedure specification and the records that support it."""

    id: str
    revision: str
    process: str
    manner: str
    flux: str
    positions: tuple[str, ...]
    topics: Texts
    pqrs: tuple[Pqr, ...]
    signed_by: str
    signed_on: date | None
    clearance: tuple[Quantity, Quantity] | None = None


@dataclass(frozen=True)
class Member:
    """One member of a joint: the tube or the fitting, as used.

    ``after_calibration`` is the day of the calibration after which its figures were taken,
    where that was stated; so in a joint and in a reading.
    """

    standard: str
    kind: str
    size: str
    alloy: str
    wall: Quantity | None
    lot: str
    instrument: str
    modified: str = ""
    dimple_clear: str = ""
    cup_depth: Quantity | None = None
    after_calibration: date | None = None


@dataclass(frozen=True)
class Examination:
    """One look at a joint: who, when, at which stage, and the item -> finding texts."""

    stage: str
    by: str
    on: date
    items: Texts
    remark: str = ""
    photo: str = ""


@dataclass(frozen=True)
class Section:
    """The cut of a joint: the plane, when it was fixed, when it was cut."""

    plane: str
    fixed_on: date | None
    fixed_before_looking: str
    by: str
    on: date
    place: Quantity | None = None


@dataclass(frozen=True)
class Reading:
    """One examiner's measurement of one face.

    ``share`` and ``u`` are fractions of the overlap; ``refused`` holds the
    code of a picture that could not be read; ``accepted_by`` the examiner who
    took a program's proposal as their own reading; ``ends`` are tube end and cup
    face as x, y, x, y in pixels and ``ends_by`` says whether they were ``given``,
    ``found`` plainly marked where they were given, or ``found-alone`` by the program
    without any; the person who accepted the picture with the latter is
    ``ends_accepted_by``; ``resolution_typed`` is set where a coarser
    ``resolution`` was used. ``scale_u`` is the relative standard uncertainty of the scale,
    a part of ``overlap_u``. ``sound`` is the share that is sound from the mouth inwards with
    its low and high end. Two things the program only raises, for a person to look at:
    ``walls`` that look thinner than beside (``member``, ``at``, ``depth``, ``least``), and
    ``dark_lines``, crack-like, with their ends in pixels; ``dark_line`` is what a person
    says the latter are, with a reason.
    """

    act: str
    reader: str
    on: date
    way: str
    share: Decimal | None
    u: Decimal | None
    low: Decimal | None
    high: Decimal | None
    unsure: Decimal | None
    overlap: Quantity | None
    needs_reader: str
    accepted_by: str
    refused: str
    method: str
    instrument: str
    blind: str
    segments: tuple[Texts, ...]
    photo_sha256: str
    remark: str = ""
    ends: tuple[Decimal, ...] = ()
    ends_by: str = "given"
    overlap_u: Quantity | None = None
    scale_u: Decimal | None = None
    resolution: Quantity | None = None
    resolution_typed: str = ""
    pixels_sha256: str = ""
    ends_accepted_by: str = ""
    walls: tuple[Texts, ...] = ()
    sound: tuple[Decimal, ...] = ()
    dark_lines: tuple[Texts, ...] = ()
    dark_line: str = ""
    dark_line_reason: str = ""
    after_calibration: date | None = None

    @property
    def taken_by(self) -> str:
        """Who took the reading as their own; empty text while its ends are not accepted."""
        alone = self.ends_by == FOUND_ALONE and not self.ends_accepted_by
        return "" if alone else self.accepted_by


@dataclass(frozen=True)
class Face:
    """One prepared side of a cut, with every reading of it.

    ``clock`` is its place round the tube as filed, ``3:00`` or ``95 deg``: clockwise from
    12 o'clock, looking from the mouth into the cup. ``erosion`` is what a person saw of
    the walls on it, ``yes`` or ``no``; blank where nobody said.
    """

    id: str
    joint: str
    grit: str
    etched: str
    magnification: str
    prepared_on: date
    half: str = ""
    crack: str = ""
    crack_length: Quantity | None = None
    over_ground: str = ""
    readings: tuple[Reading, ...] = ()
    clock: str = ""
    erosion: str = ""


@dataclass(frozen=True)
class Specimen:
    """A mechanical test of a joint: peel, tension or bend, with its figures as text."""

    id: str
    joint: str
    kind: str
    by: str
    on: date
    figures: Texts


@dataclass(frozen=True)
class Joint:
    """One brazed joint of a coupon; the flow position belongs here."""

    id: str
    coupon: str
    axis_angle: Quantity | None
    cup: str
    feed: str
    position: str
    overlap: Quantity | None
    overlap_instrument: str
    clearance: Quantity | None
    tube_wall: Quantity | None
    fitting_wall: Quantity | None
    section: Section | None = None
    examinations: tuple[Examination, ...] = ()
    faces: tuple[Face, ...] = ()
    specimens: tuple[Specimen, ...] = ()
    after_calibration: date | None = None


@dataclass(frozen=True)
class Coupon:
    """One test coupon with its parts, brazing facts and joints."""

    id: str
    mark: str
    brazed_on: date
    brazed_by: str
    supervisor: str
    started: datetime | None
    process: str
    manner: str
    joint_type: str
    flux: str
    filler: str
    form: str
    filler_lot: str
    tube: Member
    fitting: Member
    cleaning: Mapping[str, Any]
    purge: Texts
    marking: Texts
    round: str
    joints: tuple[Joint, ...]


@dataclass(frozen=True)
class Training:
    """Further training or practice given between two tests."""

    person: str
    on: date
    what: str
    by: str


@dataclass(frozen=True)
class MethodCheck:
    """A shop's check of one method version on its own faces, as filed.

    ``bias`` and ``half_width`` (of the 95 % limits of agreement, program less
    loupe) and the limits that the shop stated for them are fractions of the
    overlap; ``None`` where the act holds none. ``given`` and ``refused`` count the
    faces put to the program, ``near_limit`` those whose loupe values all lie near
    the limit, ``falsely_met`` those over it by loupe and not over it by program.
    ``slope_low`` and ``slope_high`` bound the slope of the difference against the level and
    ``bias_at_limit`` is its line at the limit; ``None`` in acts written before these were.
    So are ``over_limit`` and ``below_limit``, the faces on either side of the limit by loupe,
    ``levels``, their different loupe shares, ``covered_high``, the upper 95 % bound of the share
    of faces whose interval holds the loupe value, ``slope`` with ``mean_level`` where its line
    passes through ``bias``, and ``half_width_at_limit``.
    ``own`` is ``yes`` where the brazer of a case signed it or read its faces.
    """

    act: str
    method: str
    on: date
    by: str
    faces: int
    bias: Decimal | None
    half_width: Decimal | None
    max_bias: Decimal | None
    max_half_width: Decimal | None
    readings_sha256: str
    given: int | None = None
    refused: int | None = None
    near_limit: int | None = None
    falsely_met: int | None = None
    loupe_readers: tuple[str, ...] = ()
    own: str = ""
    slope_low: Decimal | None = None
    slope_high: Decimal | None = None
    bias_at_limit: Decimal | None = None
    over_limit: int | None = None
    below_limit: int | None = None
    levels: int | None = None
    covered_high: Decimal | None = None
    slope: Decimal | None = None
    mean_level: Decimal | None = None
    half_width_at_limit: Decimal | None = None


@dataclass(frozen=True)
class Doubt:
    """A named person's doubt about a thing, ``about`` as ``kind:id``, and how it was settled.

    ``since`` is the last day on which the thing was known to be good (``None``:
    nobody said), ``found_on`` the day of the finding; ``cleared_on`` is ``None``
    while the doubt stands. ``scope`` names the variables of the doubtful work, such as
    ``position: C``; without any, everything of the thing is doubtful.
    """

    id: str
    about: str
    by: str
    reason: str
    since: date | None
    found_on: date
    cleared_on: date | None = None
    cleared_by: str = ""
    cleared_reason: str = ""
    scope: Texts = field(default_factory=dict)


@dataclass(frozen=True)
class Evidence:
    """Everything known of one case on ``as_of``, as recorded by ``known_by``."""

    case: str
    as_of: date
    known_by: date | None
    place: str
    employer: str
    brazer: str
    mark: str
    job: str
    roles: Mapping[str, tuple[str, ...]]
    basis: Basis | None
    people: Mapping[str, Person]
    instruments: Mapping[str, Instrument]
    procedure: Procedure | None
    coupons: tuple[Coupon, ...]
    trainings: tuple[Training, ...]
    methods: tuple[MethodCheck, ...]
    doubts: tuple[Doubt, ...] = ()

    def role(self, name: str) -> str:
        """Return the first person who holds a role, or empty text."""
        held = self.roles.get(name, ())
        return held[0] if held else ""

    @property
    def joints(self) -> tuple[Joint, ...]:
        """Every joint of every coupon, in order."""
        return tuple(j for c in self.coupons for j in c.joints)

    @property
    def faces(self) -> tuple[Face, ...]:
        """Every face of every joint, in order."""
        return tuple(f for j in self.joints for f in j.faces)
