"""Coded refusals of the measuring package; each has an entry in the error reference."""

from __future__ import annotations

from lapwright.core.errors import LapwrightError


class PhotoUnreadable(LapwrightError):
    """Bytes that are no picture of a known format, or that cannot be decoded."""

    code = "MEAS-001"


class PhotoTruncated(LapwrightError):
    """A picture file that ends before its picture does."""

    code = "MEAS-002"


class PhotoTooLarge(LapwrightError):
    """A picture whose header announces more pixels than the limit."""

    code = "MEAS-003"


class PhotoTooSmall(LapwrightError):
    """A picture with too few pixels to hold a face."""

    code = "MEAS-004"


class PhotoIsHeic(LapwrightError):
    """A HEIC picture, which is not read."""

    code = "MEAS-005"


class EndsRefused(LapwrightError):
    """Ends that are no two finite points."""

    code = "MEAS-006"


class OverlapOutOfRange(LapwrightError):
    """Lengths that do not describe one joint."""

    code = "MEAS-007"


class EndsOutsidePhoto(LapwrightError):
    """An end that lies outside the picture."""

    code = "MEAS-008"


class EndsTooClose(LapwrightError):
    """Ends so close together that the overlap holds too few pixels."""

    code = "MEAS-009"


class PhotoFlat(LapwrightError):
    """A picture without contrast around the ends."""

    code = "MEAS-010"


class PhotoClipped(LapwrightError):
    """A picture that is burnt out or black along the joint."""

    code = "MEAS-011"


class PhotoBlurred(LapwrightError):
    """A picture too unsharp to see the ends of voids."""

    code = "MEAS-012"


class NoCopperWalls(LapwrightError):
    """Ends between which there is no copper on both sides of a line."""

    code = "MEAS-013"


class NoJointLine(LapwrightError):
    """Ends between which no joint line can be seen."""

    code = "MEAS-014"


class GapTooThin(LapwrightError):
    """Too few pixels across the gap."""

    code = "MEAS-015"


class FinishTooCoarse(LapwrightError):
    """Scratches of the finish that match the gap."""

    code = "MEAS-016"


class ScaleRefused(LapwrightError):
    """A scale or a known overlap that is no positive number, or both at once."""

    code = "MEAS-017"


class LoupeReadingRefused(LapwrightError):
    """A typed loupe reading that contradicts itself."""

    code = "MEAS-018"


class PhotoColourless(LapwrightError):
    """A picture without colour, in which filler and residue look alike."""

    code = "MEAS-019"


class FillUnclear(LapwrightError):
    """A gap whose fill may be filler or residue over much of its length."""

    code = "MEAS-020"


class PeelMaskUnreadable(LapwrightError):
    """A mask that is no whole, opaque PNG of 8 bits."""

    code = "MEAS-030"


class PeelMaskValueUnknown(LapwrightError):
    """A mask with pixels whose value stands for nothing."""

    code = "MEAS-031"


class PeelMaskOtherSize(LapwrightError):
    """A mask of another size than its photograph."""

    code = "MEAS-032"


class PeelMaskMeaningRefused(LapwrightError):
    """A meaning of mask values that is incomplete or contradicts itself."""

    code = "MEAS-033"


class PeelOutlineRefused(LapwrightError):
    """An outline that bounds no area, crosses itself or leaves the picture."""

    code = "MEAS-034"


class LapDirectionRefused(LapwrightError):
    """A lap direction that is missing, has no length, or runs along the mouth edge."""

    code = "MEAS-035"


class PeelSurfaceMissing(LapwrightError):
    """No pixel of a lap surface: neither outline nor mask, or nothing inside them."""

    code = "MEAS-036"


class PeelPhotoUnclear(LapwrightError):
    """A photograph on which no classes of a peeled surface can be proposed."""

    code = "MEAS-037"


class ReadingsFileRefused(LapwrightError):
    """A file of readings that is no comma-separated text with the columns asked for."""

    code = "MEAS-040"


class ReadingsRowsRefused(LapwrightError):
    """Rows of a file of readings that do not fit; ``faults`` names each with its reason."""

    code = "MEAS-041"
    faults: tuple[str, ...] = ()


class StudyTooSmall(LapwrightError):
    """Too few faces, readers or days for the figure that was asked for."""

    code = "MEAS-042"


class StudyHasGaps(LapwrightError):
    """A study of readers in which somebody has not read a face."""

    code = "MEAS-043"


class MethodCheckRefused(LapwrightError):
    """A method check whose readings, method version or limits do not fit together."""

    code = "MEAS-044"


class QuantileRefused(LapwrightError):
    """A probability or degrees of freedom for which no quantile exists."""

    code = "MEAS-045"


class StudyLimitRefused(LapwrightError):
    """A limit that is no share of the overlap."""

    code = "MEAS-046"


class SeveralScales(LapwrightError):
    """More than one source of scale for one picture, or half of one."""

    code = "MEAS-050"


class NoCard(LapwrightError):
    """A picture in which no scale card can be found."""

    code = "MEAS-051"


class TooFewCorners(LapwrightError):
    """A scale card of which too little is seen."""

    code = "MEAS-052"


class CardTooSteep(LapwrightError):
    """A scale card that is seen too much from the side."""

    code = "MEAS-053"


class CardNotFlat(LapwrightError):
    """A scale card whose corners do not lie in one plane."""

    code = "MEAS-054"


class CardsDisagree(LapwrightError):
    """Scale cards of one picture that do not lie in one plane, or two copies of one card."""

    code = "MEAS-055"


class CheckLineRefused(LapwrightError):
    """A measured check line that no print of the card can have."""

    code = "MEAS-056"


class ScaleTooLoose(LapwrightError):
    """A scale so uncertain that a length taken with it says nothing."""

    code = "MEAS-057"


class ScaleLineRefused(LapwrightError):
    """A line of known length whose ends or length cannot be used."""

    code = "MEAS-058"


class NoGraduations(LapwrightError):
    """A picture without the even graduations of a stage micrometer."""

    code = "MEAS-059"


class GraduationsAmbiguous(LapwrightError):
    """Graduations in which two spacings could be the pitch."""

    code = "MEAS-060"


class GraduationsUneven(LapwrightError):
    """Graduations whose spacing changes across the picture: seen at a slant, or not flat."""

    code = "MEAS-061"


class PitchRefused(LapwrightError):
    """A pitch that is no positive length."""

    code = "MEAS-062"


class ProfileRefused(LapwrightError):
    """An instrument profile with a missing, unknown or impossible entry."""

    code = "MEAS-063"


class ProfileOutOfDate(LapwrightError):
    """An instrument profile that does not hold on the day asked about."""

    code = "MEAS-064"


class ProfileOtherPicture(LapwrightError):
    """An instrument profile made from pictures of another size."""

    code = "MEAS-065"


class NoJointFound(LapwrightError):
    """A picture without ends given, in which no joint is plainly marked."""

    code = "MEAS-021"


class SeveralJoints(LapwrightError):
    """A picture without ends given, in which several joints may lie; ``candidates`` lists them."""

    code = "MEAS-022"
    candidates: tuple[dict[str, object], ...] = ()

    def at(self, where: str) -> LapwrightError:
        """Return the same refusal, its candidates too, with an outer place put before its own."""
        outer = super().at(where)
        assert isinstance(outer, SeveralJoints)
        outer.candidates = self.candidates
        return outer


class EndsSwapped(LapwrightError):
    """Ends of which each lies where the picture marks the other."""

    code = "MEAS-023"


class OffAxisRefused(LapwrightError):
    """Diameter, wall or apparent length that are none of a tube."""

    code = "MEAS-070"


class OffAxisNeedsScale(LapwrightError):
    """Tube sizes given with a picture whose scale is not known."""

    code = "MEAS-071"


class NoLineRefused(LapwrightError):
    """Readings through which no line of difference against level can be laid."""

    code = "MEAS-090"


class ChartRefused(LapwrightError):
    """Differences that give no chart of cumulative sums."""

    code = "MEAS-091"


class FaceRepeatedRefused(LapwrightError):
    """A method check in which one face stands for several."""

    code = "MEAS-095"


class MixedSharesRefused(LapwrightError):
    """A column of readings with fractions and percentages in it."""

    code = "MEAS-096"
