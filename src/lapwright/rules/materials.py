"""Tube, fittings, tees and filler of a brazed medical-gas joint.

NFPA 99 chapter 5 (paragraphs per edition as the rule files say), with the
conflicts that other public texts raise kept as second wordings: type K over
3 in or from 3 in, filler for dissimilar joints. Sizes name their standard.
Nothing here picks a material; it answers for the one that was named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.core.outcomes import Finding, Subject
from lapwright.core.quantities import Quantity, inches, length
from lapwright.reference.sizes import NominalSize, parse_size

from .asking import Question, Ruling
from .rulebook import Adopted, Rule
from .rulings import held, met, needed, not_met, word
from .variants import both_wordings

YES_NO = ("yes", "no")
SERVICES = ("positive-pressure", "vacuum")


@dataclass(frozen=True)
class TubeUse:
    """Tube in one line: as marked and as delivered, with the line's service and pressure."""

    line: str
    standard: str
    type: str
    size: str
    service: str = "positive-pressure"
    temper: str = ""
    delivered: tuple[str, ...] = ()
    pressure: Quantity | None = None


@dataclass(frozen=True)
class FittingUse:
    """A fitting: its standard if known, its mark, its size with the tube standard it fits."""

    id: str
    standard: str = ""
    mark: str = ""
    size: str = ""
    tube_standard: str = ""


@dataclass(frozen=True)
class FillerUse:
    """Filler and flux of one joint; ``metals`` are plain words such as copper, brass, bronze.

    ``kind`` says what ``joint`` is the id of: a joint, or a whole coupon.
    """

    joint: str
    metals: tuple[str, str]
    filler: str
    flux: str
    kind: str = "joint"


def judge_tube(use: TubeUse, *, adopted: Adopted) -> Finding:
    """Judge standard, type, temper and delivery of tube for a positive-pressure line.

    Parameters
    ----------
    use : TubeUse
        The tube and its line. For vacuum no text of the rule is known here.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(
        "tube.standards",
        Subject("line", use.line),
        adopted,
        also=("tube.types", "tube.temper", "tube.delivered"),
    )
    unclear = ask.unclear("service", use.service, SERVICES) or ask.lacks(standard=use.standard)
    if unclear is not None:
        return unclear
    if use.service != "positive-pressure":
        return ask.no_text()
    return ask.answer(lambda rule: _tube(rule, use, adopted))


def _tube(rule: Rule, use: TubeUse, adopted: Adopted) -> Ruling:
    if use.standard not in rule.value:
        return not_met(
            "tube.standard", got=use.standard, wanted=", ".join(rule.value), saw=use.standard
        )
    types = adopted.first("tube.types").value
    if use.type and use.type not in types:
        return not_met("tube.type", got=use.type, wanted=", ".join(types), saw=use.type)
    temper = adopted.first("tube.temper").value[0]
    if use.temper and word(use.temper) != temper:
        return not_met("tube.temper", got=use.temper, wanted=temper, saw=use.temper)
    lacking = [d for d in adopted.first("tube.delivered").value if d not in use.delivered]
    if lacking and use.delivered:
        return not_met("tube.delivered", lacking=", ".join(lacking))
    stated = (("type", use.type), ("temper", use.temper), ("delivered", use.delivered))
    blank = [name for name, value in stated if not value]
    if blank:
        return needed("tube.blank", fields=", ".join(blank))
    return met("tube.fits", standard=use.standard, type=use.type)


def judge_tube_type(use: TubeUse, *, adopted: Adopted) -> Finding:
    """Judge whether the line asks for type K: high pressure and large size.

    Two wordings of the size are known, over 3 in and from 3 in; where they
    differ both are shown and the stricter acts.

    Parameters
    ----------
    use : TubeUse
        ``pressure``, ``size`` and ``type`` of the line.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(
        "tube.type_k_size", Subject("line", use.line), adopted, also=("tube.type_k_pressure",)
    )
    missing = ask.lacks(pressure=use.pressure, size=use.size, type=use.type)
    if missing is not None or use.pressure is None:
        return missing or ask.missing("pressure")
    size = parse_size(use.size, standard_name=use.standard, where=f"line {use.line}")
    first = ask.answer(lambda rule: _type_k(rule, use, size, adopted))
    other = Question("tube.type_k_size_variant", ask.subject, adopted, also=ask.also)
    if not adopted.has(other.rule):
        return first
    return both_wordings(ask, first, other.answer(lambda rule: _type_k(rule, use, size, adopted)))


def _type_k(rule: Rule, use: TubeUse, size: NominalSize, adopted: Adopted) -> Ruling:
    high = Quantity.parse(adopted.first("tube.type_k_pressure").value, "pressure")
    large = length(rule.value)
    reached = inches(size.number)
    over = reached > large or (rule.operator == ">=" and reached == large)
    shown = {
        "size": f"{size} in",
        "type": use.type,
        "limit": f"{rule.operator} {large.text}",
        "pressure": use.pressure.text if use.pressure else "",
        "high": high.text,
    }
    if use.type == "K" or not over or (use.pressure is not None and use.pressure <= high):
        return met("tube.type_free", saw=f"{size} in", **shown)
    return not_met("tube.type_k", saw=f"{size} in", **shown)


def judge_fitting(use: FittingUse, *, adopted: Adopted) -> Finding:
    """Judge the standard of a fitting, or what its mark lets one conclude.

    Parameters
    ----------
    use : FittingUse
        The fitting. A braze-cup mark lets its standard be assumed; the cup is
        then measured. Small fittings need no mark, so its absence says nothing.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("fittings.standards", Subject("fitting", use.id), adopted)
    if use.standard:
        return _by_standard(ask, use)
    marked = Question("fittings.bz_mark", ask.subject, adopted, also=("fittings.bz_mark_size",))
    return ask.lacks(size=use.size) or marked.answer(lambda rule: _by_mark(rule, use, adopted))


def _by_standard(ask: Question, use: FittingUse) -> Finding:
    cast = Question("fittings.cast", ask.subject, ask.adopted)
    if use.standard == "ASME B16.18":
        return cast.answer(lambda _: held("fitting.cast", standard=use.standard, saw=use.standard))
    return ask.answer(
        lambda rule: (
            met("fitting.listed", standard=use.standard)
            if use.standard in rule.value
            else not_met(
                "fitting.unlisted",
                standard=use.standard,
                wanted=", ".join(rule.value),
                saw=use.standard,
            )
        )
    )


def _by_mark(rule: Rule, use: FittingUse, adopted: Adopted) -> Ruling:
    if use.mark == rule.value:
        return met("fitting.by_mark", mark=use.mark, size=use.size, saw=use.mark)
    size = parse_size(use.size, standard_name=use.tube_standard, where=f"fitting {use.id}")
    smallest = parse_size(
        adopted.first("fittings.bz_mark_size").value, standard_name=use.tube_standard
    )
    if size < smallest:
        return needed("fitting.small_unmarked", size=use.size, smallest=str(smallest))
    return needed("fitting.unmarked", size=use.size, mark=rule.value)


def judge_tee(joint: str, *, service: str, made: str, joined: str, adopted: Adopted) -> Finding:
    """Judge a drilled or extruded tee.

    Parameters
    ----------
    joint : str
        Id of the joint.
    service : str
        ``positive-pressure`` or ``vacuum``.
    made : str
        ``yes`` when it was made to the tool maker's instructions, ``no`` if not.
    joined : str
        How it is joined, for example ``brazed``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("tee.drilled", Subject("joint", joint), adopted)
    unclear = ask.unclear("service", service, SERVICES)
    if unclear is not None:
        return unclear
    if any(
        r.value is not None and service not in r.value["services"] for r in adopted.all(ask.rule)
    ):
        return ask.answer(lambda _: not_met("tee.service", service=service, saw=service))
    unclear = ask.unclear("made", made, YES_NO) or ask.lacks(joined=joined)
    return unclear or ask.answer(
        lambda rule: (
            met("tee.fits", service=service)
            if made == "yes" and joined == rule.value["joined"]
            else not_met("tee.made", joined=joined, made=made)
        )
    )


def judge_filler(use: FillerUse, *, adopted: Adopted) -> Finding:
    """Judge filler family and flux for the metals of one joint.

    Copper to copper takes BCuP without flux. Copper to brass or bronze takes
    BAg, flux allowed; a trade handbook also names BCuP, which is kept as a
    conflict.

    Parameters
    ----------
    use : FillerUse
        Metals, filler class and flux (``none``, or what was used).
    adopted : Adopted
        The adopted editions.
    """
    copper = all(metal == "copper" for metal in use.metals)
    rule_id = "filler.family_copper" if copper else "filler.family_dissimilar"
    ask = Question(
        rule_id,
        Subject(use.kind, use.joint),
        adopted,
        also=("filler.flux_copper",) if copper else ("filler.flux_dissimilar",),
    )
    missing = ask.lacks(**{"filler.class": use.filler, "brazed.flux": use.flux})
    if missing is None:
        missing = next(
            (
                u
                for metal in use.metals
                if (u := ask.unclear("metal", metal, ("copper", "brass", "bronze")))
            ),
            None,
        )
    if missing is not None:
        return missing
    if copper:
        return ask.answer(lambda rule: _copper(rule, use))
    first = ask.answer(lambda rule: _dissimilar([rule.value], use))
    other = Question("filler.family_dissimilar_variant", ask.subject, adopted, also=ask.also)
    if not adopted.has(other.rule):
        return first
    return both_wordings(ask, first, other.answer(lambda rule: _dissimilar(rule.value, use)))


def _family(use: FillerUse) -> str:
    return use.filler.split("-")[0]


def _copper(rule: Rule, use: FillerUse) -> Ruling:
    if _family(use) != rule.value:
        return not_met("filler.family", filler=use.filler, wanted=rule.value, saw=use.filler)
    if use.flux != "none":
        return not_met("filler.flux", flux=use.flux, saw=use.flux)
    return met("filler.copper", filler=use.filler)


def _dissimilar(families: Sequence[str], use: FillerUse) -> Ruling:
    if _family(use) not in families:
        return not_met(
            "filler.family", filler=use.filler, wanted=", ".join(families), saw=use.filler
        )
    if use.flux == "none":
        return met("filler.dissimilar", filler=use.filler)
    return met("filler.remove_flux", filler=use.filler, flux=use.flux)


def judge_melting(filler: str, liquidus: Quantity | None, *, adopted: Adopted) -> Finding:
    """Judge that a filler melts high enough to be a brazing filler.

    Parameters
    ----------
    filler : str
        Its name.
    liquidus : Quantity or None
        Temperature at which it is wholly molten.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("filler.min_temperature", Subject("filler", filler), adopted)
    if liquidus is None:
        return ask.missing("liquidus")
    return ask.answer(lambda rule: _melts(rule, liquidus))


def _melts(rule: Rule, liquidus: Quantity) -> Ruling:
    limit = Quantity.parse(rule.value, "temperature", where=rule.key)
    shown = {"liquidus": liquidus.text, "limit": limit.text}
    if liquidus > limit:
        return met("filler.melts_high", saw=liquidus.text, **shown)
    return not_met("filler.melts_low", saw=liquidus.text, **shown)


def least_sound_overlap(walls: Sequence[Quantity], *, adopted: Adopted) -> Quantity:
    """Return the overlap and filler penetration that give full strength.

    A rule of thumb: three times the thinner wall, with a good fillet.

    Parameters
    ----------
    walls : sequence of Quantity
        Walls of the members.
    adopted : Adopted
        The adopted editions.

    Raises
    ------
    RuleUnknown
        If no adopted edition states the factor.
    """
    return min(walls).times(adopted.first("overlap.min_walls").value)


def judge_penetration(
    subject: Subject, least: Quantity | None, walls: Sequence[Quantity], *, adopted: Adopted
) -> Finding:
    """Judge the least sound penetration of filler against the thinner wall.

    Parameters
    ----------
    subject : Subject
        The face or joint.
    least : Quantity or None
        Least sound penetration found.
    walls : sequence of Quantity
        Walls of the members.
    adopted : Adopted
        The adopted editions. The rule is one of thumb, so a shortfall is held,
        not refused.
    """
    ask = Question("overlap.min_walls", subject, adopted)
    missing = ask.lacks(penetration=least, walls=tuple(walls))
    if missing is not None or least is None:
        return missing or ask.missing("penetration")
    wanted = least_sound_overlap(walls, adopted=adopted)
    shown = {"least": least.text, "wanted": wanted.text}
    return ask.answer(
        lambda _: (
            met("penetration.enough", saw=least.text, **shown)
            if least >= wanted
            else held("penetration.short", saw=least.text, **shown)
        )
    )
