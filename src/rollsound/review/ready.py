"""Ready: every proof there is, weighed, in one sentence a mixer can act on.

Nothing is claimed that was not checked: an area without proofs says so, and what could not be proven is told.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from rollsound.finding import Area, Weight, heaviest
from rollsound.review.model import AreaAnswer, AreaFigure, Held, Proof, Told, Verdict

NOTHING_HERE = "nothing to prove here yet"
_BY_WEIGHT = list(Weight)
_BY_AREA = list(Area)
_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
# A check over a whole day tells again what was found on single files; there, the closer finding is enough.
_TOLD_CLOSER = {"files whole": "file-not-whole", "files read": "lost", "results read": "lost"}


def verdict_of(
    proofs: Sequence[Proof],
    figures: Mapping[Area, AreaFigure] | None = None,
    gaps: Sequence[str] = (),
    basis: str = "",
) -> Verdict:
    """Weigh all proofs.

    Parameters
    ----------
    figures
        the number that says most about an area; where there is none, the proofs of the area are counted
    gaps
        what could not be proven, each one sentence
    basis
        what was checked, for the end of "2 of 3 proofs hold ..."; such as "for the plan at revision 4"
    """
    weighing = _weighing(proofs)
    holds = sum(proof.holds for proof in proofs)
    areas = tuple(_area(area, proofs, (figures or {}).get(area)) for area in Area)
    return Verdict(
        sentence=_sentence(len(proofs), weighing, _bare(areas), gaps),
        lede=_lede(holds, len(proofs), areas, basis),
        areas=areas,
        findings=tuple(told for _, told in weighing),
        held=_held(proofs),
        gaps=tuple(gaps),
        holds=holds,
        total=len(proofs),
    )


def _weighing(proofs: Iterable[Proof]) -> list[tuple[bool, Told]]:
    """What weighs, heaviest first, each thing once, and whether it is about what is recorded already.

    Within a weight, what is to come stands before what is recorded.
    """
    found = [
        (proof.recorded, told) for proof in proofs for told in proof.told if told.finding.weight is not Weight.FINE
    ]
    kinds = {told.finding.kind for _, told in found}
    once: dict[tuple[object, ...], tuple[bool, Told]] = {}
    for recorded, told in found:
        if _TOLD_CLOSER.get(told.finding.kind) in kinds:
            continue
        same = (told.finding.area, told.finding.kind, told.finding.subject, told.finding.what, _take(told))
        before = once.get(same)
        if before is None or _rank(told) < _rank(before[1]):
            once[same] = (recorded, told)
    apart = [
        (recorded, told_together([told for kept, told in once.values() if kept is recorded]))
        for recorded in (False, True)
    ]
    return sorted(((recorded, told) for recorded, some in apart for told in some), key=lambda each: _rank(each[1]))


def _rank(told: Told) -> int:
    return _BY_WEIGHT.index(told.finding.weight)


def _take(told: Told) -> str:
    return told.place.id if told.place is not None else ""


def in_words(number: int) -> str:
    """A small number as a word, a large one in figures."""
    return _WORDS[number] if 0 <= number < len(_WORDS) else str(number)


def _sentence(total: int, weighing: Sequence[tuple[bool, Told]], bare: Sequence[str], gaps: Sequence[str]) -> str:
    if not total:
        return "Nothing is proven yet."
    stops = [recorded for recorded, told in weighing if told.finding.weight is Weight.STOP]
    spoilt = sum(stops)
    to_come, watches = len(stops) - spoilt, len(weighing) - len(stops)
    if to_come:
        more = f"; {in_words(spoilt)} more spoil{'s' if spoilt == 1 else ''} what is recorded" if spoilt else ""
        return f"{_things(to_come)} would stop the roll{more}."
    nothing = "Nothing that was checked would stop the roll" if bare or gaps else "Nothing would stop the roll"
    if spoilt:
        spoil = "spoils" if spoilt == 1 else "spoil"
        return f"{nothing}; {_things(spoilt).lower()} {spoil} what is recorded."
    if watches:
        deserve = "deserves" if watches == 1 else "deserve"
        return f"{nothing}; {_things(watches).lower()} {deserve} a look."
    if bare:
        return f"{nothing}; {_and(bare)} {'is' if len(bare) == 1 else 'are'} not proven."
    if gaps:
        return f"{nothing}; not everything could be checked."
    return "Ready: the one proof holds." if total == 1 else f"Ready: all {total} proofs hold."


def _things(number: int) -> str:
    words = in_words(number)
    return f"{words[:1].upper()}{words[1:]} {'thing' if number == 1 else 'things'}"


def _lede(holds: int, total: int, areas: Sequence[AreaAnswer], basis: str) -> str:
    if not total:
        return "No check has run yet: the plan is empty, and no media were measured."
    proofs = "the one proof" if total == 1 else f"{total} proofs"
    hold = "holds" if holds == 1 else "hold"
    first = f"{holds} of {proofs} {hold}{f' {basis}' if basis else ''}."
    bare = _bare(areas)
    return f"{first} Nothing is proven yet about {_and(bare)}." if bare else first


def _bare(areas: Sequence[AreaAnswer]) -> list[str]:
    """The areas of which nothing is proven."""
    return [each.area.value for each in areas if not each.total]


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _area(area: Area, proofs: Iterable[Proof], figure: AreaFigure | None) -> AreaAnswer:
    mine = [proof for proof in proofs if proof.area is area]
    holds = sum(proof.holds for proof in mine)
    weight = heaviest(told.finding for proof in mine for told in proof.told)
    if not mine:
        return AreaAnswer(area=area, figure="", sentence=NOTHING_HERE, weight=Weight.FINE, holds=0, total=0)
    if figure is None or figure.weight is not weight:  # a figure beside the weight of something else would mislead
        figure = AreaFigure(figure=f"{holds} / {len(mine)}", sentence=f"{'proof' if len(mine) == 1 else 'proofs'} hold")
    return AreaAnswer(
        area=area, figure=figure.figure, sentence=figure.sentence, weight=weight, holds=holds, total=len(mine)
    )


def _held(proofs: Iterable[Proof]) -> tuple[Held, ...]:
    counted = Counter((proof.area, proof.what) for proof in proofs if proof.holds)
    ordered = sorted(counted.items(), key=lambda each: (_BY_AREA.index(each[0][0]), each[0][1]))
    return tuple(Held(area=area, what=what, count=number) for (area, what), number in ordered)


def told_together(told: Sequence[Told]) -> tuple[Told, ...]:
    """Tell once what shows on several tracks of a take at the same place: one burst of noise, heard in the mix too.

    The loudest is told; the places of the others stay with it.
    """
    groups: list[list[Told]] = []
    for each in told:
        group = next((group for group in groups if _one_event(group[0], each)), None)
        if group is None:
            groups.append([each])
        else:
            group.append(each)
    return tuple(_loudest(group) for group in groups)


def _one_event(one: Told, other: Told) -> bool:
    if one.place is None or other.place is None or not (one.place.length_samples and other.place.length_samples):
        return False
    same = (one.finding.kind, one.place.id) == (other.finding.kind, other.place.id)
    apart = one.place.track != other.place.track
    return same and apart and one.finding.weight is other.finding.weight and _overlap(one, other)


def _overlap(one: Told, other: Told) -> bool:
    """All places of the one meet all of the other, so that no place of either goes untold."""
    mine, theirs = ([(r.start_sample, r.length_samples) for r in each.finding.refs] for each in (one, other))
    if len(mine) != len(theirs):
        return False
    return all(a < d + e and d < a + b for (a, b), (d, e) in zip(mine, theirs, strict=True))


def _loudest(group: Sequence[Told]) -> Told:
    first = max(group, key=lambda told: told.finding.numbers.get("loudest_dbfs", float("-inf")))
    also = tuple(told.place for told in group if told is not first and told.place is not None)
    return first.model_copy(update={"also": (*first.also, *also)}) if also else first


def places_of(told: Told) -> str:
    """Where else the same shows, in words; empty when nowhere."""
    tracks = sorted({place.track for place in told.also if place.track})
    if not tracks:
        return ""
    return f"The same shows on {'track' if len(tracks) == 1 else 'tracks'} {_and([str(each) for each in tracks])}."
