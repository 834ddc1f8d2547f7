"""``lapwright card``: print scale cards at true size; make a profile from a picture of one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright.documents.card import CARD_LABELS, CardSheet, PrintedCard, typeset_card
from lapwright.reference.cards import CHECK_LINE_MM, DICTIONARY, VERSION, ScaleCard, scale_cards

from .atomic import write_made
from .pictures import read_picture
from .profiles import Profile, write_profile
from .scales import Found, print_of, scale_document, scale_warnings
from .text import catalogue, word

if TYPE_CHECKING:
    from lapwright.measure.image import Photo
    from lapwright.measure.scale import PictureScale

PAPERS = {"letter": "us-letter", "a4": "a4"}
ROWS = (("LW1-6", 3), ("LW1-4", 3), ("LW1-4", 3), ("LW1-2", 4), ("LW1-2", 4))
STEPS = ("print", "measure", "cut", "lay")
PROFILE_TILT_DEG = 8.0  # more, and one number for the whole picture is no scale


@dataclass(frozen=True)
class ProfileWanted:
    """Where a profile is to be written, and what a person states in it."""

    out: Path
    instrument: str
    setting: str
    made_on: date
    valid_until: date


def card_pdf(paper: str) -> bytes:
    """Return the sheet of scale cards as a PDF.

    Parameters
    ----------
    paper : str
        ``letter`` or ``a4``.
    """
    return typeset_card(card_sheet(paper))


def card_sheet(paper: str) -> CardSheet:
    """Return what stands on the sheet of scale cards.

    Parameters
    ----------
    paper : str
        ``letter`` or ``a4``.
    """
    cards = {card.name: _printed(card) for card in scale_cards()}
    return CardSheet(
        title=word("record.card.title"),
        version=word("record.card.version", version=VERSION),
        steps=tuple(word(f"record.card.step.{step}") for step in STEPS),
        small=word("record.card.small", dictionary=DICTIONARY, version=VERSION),
        check_mm=CHECK_LINE_MM,
        rows=tuple(cards[name] for name, _ in ROWS),
        copies=tuple(copies for _, copies in ROWS),
        labels={name: catalogue()[name] for name in CARD_LABELS},
        paper=PAPERS[paper],
    )


def write_cards(out: Path, *, paper: str) -> str:
    """Write the sheet and return what to tell the person.

    Parameters
    ----------
    out : Path
        Where to write; ends in ``.pdf``.
    paper : str
        ``letter`` or ``a4``.

    Raises
    ------
    OutputRefused
        If it cannot be written there.
    """
    write_made(out, card_pdf(paper), suffix=".pdf")
    return word("card.written", path=str(out))


def measure_picture(
    photo: Path,
    *,
    pitch_mm: float | None = None,
    check_mm: tuple[float, ...] | None = None,
    wanted: ProfileWanted | None = None,
) -> dict[str, Any]:
    """Take the scale from a picture of a card or of a stage micrometer.

    Parameters
    ----------
    photo : Path
        The picture.
    pitch_mm : float, optional
        Pitch of a stage micrometer, [mm]; without it a card is looked for.
    check_mm : tuple of float, optional
        Measured check lines of the card, [mm].
    wanted : ProfileWanted, optional
        Write a profile as well.

    Raises
    ------
    LapwrightError
        With a coded line; no profile is written then.
    """
    from lapwright.measure.graduations import micrometer_scale
    from lapwright.measure.image import open_photo
    from lapwright.measure.resolution import said_px_per_mm
    from lapwright.measure.scalecard import card_scale

    data = read_picture(photo)
    picture = open_photo(data, where=str(photo))
    if pitch_mm is None:
        scale = card_scale(picture, printed=print_of(check_mm))
    else:
        scale = micrometer_scale(picture, pitch_mm=pitch_mm)
    if wanted is not None:
        scale = _for_all_places(scale)
        write_profile(wanted.out, _profile(wanted, picture, scale))
    found = Found(scale, (picture.width, picture.height), said_px_per_mm(data))
    document = {"outcome": "measured", "code": "", "scale": scale_document(found)}
    document["message"] = word(
        "card.measured",
        scale=f"{scale.px_per_mm:.3f}",
        u=f"{scale.u:.3f}",
        source=word(f"card.source.{scale.source}"),
    )
    document["warnings"] = scale_warnings(found)
    document["image_sha256"] = picture.sha256
    document["profile"] = "" if wanted is None else str(wanted.out)
    return document


def measured_lines(document: dict[str, Any]) -> list[str]:
    """Return a measured scale as lines for a terminal."""
    out = [document["message"]]
    scale = document["scale"]
    if scale["tilt_deg"] is not None:
        figures = {"tilt": f"{scale['tilt_deg']:.0f}", "u": f"{scale['tilt_u_deg']:.0f}"}
        out.append(word("card.tilt", card=scale["card"], corners=str(scale["corners"]), **figures))
    out += document["warnings"]
    if document["profile"]:
        out.append(word("card.profile-written", path=document["profile"]))
    return out


def _for_all_places(scale: PictureScale) -> PictureScale:
    """Return the scale as one number for the whole picture, unless it is tilted too much."""
    from lapwright.measure.errors import CardTooSteep
    from lapwright.measure.scale import TILT_REL_U, firm

    facts = dict(scale.facts)
    tilt = facts.get("tilt_deg")
    if not isinstance(tilt, float):
        return scale
    if tilt > PROFILE_TILT_DEG:  # its spread excuses nothing: an unchecked print has the larger
        raise CardTooSteep(
            "the card is tilted too much for a profile",
            got=f"about {tilt:.1f} degrees",
            expected=f"at most {PROFILE_TILT_DEG:g} degrees",
            do="Lay the card square under the camera and photograph again; give --check-mm too, "
            "because an uneven print looks like a tilt.",
        )
    return firm(replace(scale, parts=(*scale.parts, ("tilt", TILT_REL_U))))


def _profile(wanted: ProfileWanted, picture: Photo, scale: PictureScale) -> Profile:
    return Profile(
        instrument=wanted.instrument,
        setting=wanted.setting,
        px_per_mm=scale.px_per_mm,
        u=scale.u,
        made_on=wanted.made_on,
        valid_until=wanted.valid_until,
        size=(picture.width, picture.height),
        picture_sha256=picture.sha256,
        source=scale.source,
    )


def _printed(card: ScaleCard) -> PrintedCard:
    from lapwright.measure.cardface import dark_parts

    width, height = (float(side) for side in card.size_mm)
    ids = card.marker_ids
    return PrintedCard(
        name=card.name,
        use=word("record.card.use", square=str(card.square_mm)),
        alt=word(
            "record.card.board",
            columns=str(card.columns),
            rows=str(card.rows),
            square=str(card.square_mm),
            first=str(ids[0]),
            last=str(ids[-1]),
        ),
        width_mm=width,
        height_mm=height,
        ruler_mm=10 * round(width / 10),
        parts=dark_parts(card),
    )
