"""Order of work with its hold points, and what is looked at and signed. A study in, lists to tick out."""

from __future__ import annotations

from halfshaft.book.model import Tick, Ticks
from halfshaft.build.catalogue import default
from halfshaft.build.units import format_angle, format_length, format_torque
from halfshaft.checks import Severity
from halfshaft.cut.folded_drawing import fold_numbers
from halfshaft.cut.station import is_refused
from halfshaft.fold.inspect import inspection_of
from halfshaft.fold.model import Bracket
from halfshaft.mounts.bolt_length import bolt_words
from halfshaft.study import Study


def order_of_work(study: Study) -> tuple[Ticks, ...]:
    """What is done, in order; a hold point is signed before work goes on."""
    build = study.build
    made = [b for b in study.brackets.values() if not is_refused(b)]
    stops = [c for c in study.checks if not c.ok and c.severity is Severity.STOP]
    in_place = build.shop.weld == "in place"
    before = [
        Tick("Read the cautions of this book with everyone who works on the car."),
        Tick("Car on stands on level ground, 12 V battery off, fuel drained where work is hot, pack not in the car."),
        Tick("Print one paper template and measure its check lengths.", "100.0 mm both ways"),
    ]
    if stops:
        before.append(Tick(f"Settle what says STOP ({len(stops)}), work it again, print the new book."))
    before.append(_hold("everything that says STOP is settled, and the readings named as slips were taken again"))
    lists = [Ticks("Before anything is cut", tuple(before))]
    if made:
        lists.append(Ticks("Cut", tuple(_cutting(study, made))))
        lists.append(Ticks("Fold and offer up", tuple(_folding(study, made, in_place))))
    if study.mounts is not None and study.mounts.mounts:
        lists.append(Ticks("Bolt up", tuple(_bolting(study))))
    if study.pack is not None:
        lists.append(Ticks("Pack, by people licensed for it", tuple(_packing(study))))
    lists.append(Ticks("First drive", tuple(_driving(study))))
    return tuple(lists)


def _hold(words: str) -> Tick:
    return Tick(f"HOLD until {words}.", "Name, date:", sign=True)


def _cutting(study: Study, made: list[Bracket]) -> list[Tick]:
    build = study.build
    rows = []
    slit = dict.fromkeys(b.sheet for b in made if any(f.kind == "slit" for f in b.folds))
    for name in slit:
        if name in build.sheet and build.sheet[name].pivot_depth_mm is None:
            rows.append(
                Tick(
                    f"Cut and fold the test coupon of sheet '{name}', fill in its table, work it again.", "out/coupons"
                )
            )
    for bracket in made:
        for part in bracket.parts:
            rows.append(
                Tick(f"Cut {part.name} from sheet '{part.sheet}', upper side up; deburr.", f"out/{bracket.name}")
            )
    for name in build.opening:
        rows.append(Tick(f"Opening '{name}': template on its hole and edge, scribe, centre-punch.", "out/openings"))
    if build.opening or (build.fitup is not None and build.fitup.window):
        rows.append(_hold("a qualified welder has seen what is to be cut of the frame, and what brings it back"))
    rows.append(_hold("the flat parts have been measured against the inspection list"))
    return rows


def _folding(study: Study, made: list[Bracket], in_place: bool) -> list[Tick]:
    rows = []
    for bracket in made:
        for name, (number, fold) in fold_numbers(bracket).items():
            way = "up" if fold.up else "down"
            inside = format_angle(180.0 - fold.angle_deg, 1)
            told = f"{bracket.name}, fold {number} ({name}): {way} by {format_angle(fold.angle_deg, 1)}."
            rows.append(Tick(told, f"inside angle {inside}"))
        if bracket.gussets:
            rows.append(Tick(f"{bracket.name}: tack its {len(bracket.gussets)} gussets square to both panels."))
        rows.append(
            Tick(
                f"{bracket.name}: offer it up; every bolt goes in by hand, every panel pulls up.",
                f"gap under a panel at most {format_length(study.build.shop.pull_up_mm, study.build.build.units)}",
            )
        )
    rows.append(_hold("all brackets and the unit hang together by hand, and the half-shafts turn through the travel"))
    where = "in place, bolted up" if in_place else "at the bench, in a jig or on the unit"
    rows.append(Tick(f"Tack all folds {where}; check angles and holes again; then weld in short runs from the middle."))
    rows.append(Tick("Let it cool; measure hole to hole as made; write it in as_built.csv.", "inspection list"))
    rows.append(_hold("a qualified welder has judged every weld"))
    rows.append(Tick("Clean, prime, paint; bare metal under washers where the joint holds by friction."))
    return rows


def _bolting(study: Study) -> list[Tick]:
    assert study.mounts is not None
    rows = [
        Tick(
            f"{mount}, {seat.name}: {len(seat.bolts)} bolts {bolt_words(seat)}, thread {seat.thread}, at "
            f"{', '.join(name for name in seat.bolts)}.",
            format_torque(seat.preload.torque_nm, study.build.build.units),
        )
        for mount, seat in study.mounts.seats
    ]
    rows.append(_hold("every bolt has been turned with a torque wrench and marked"))
    return rows


def _packing(study: Study) -> list[Tick]:
    assert study.pack is not None
    pack = study.pack
    return [
        Tick("All hot work on the car is done; boxes are in, their fixings as the pack's table asks."),
        Tick(
            f"Each of the {pack.modules} modules measured before it goes in.",
            f"volts of each, within {default('book.module_volts').value:g} V of its like",
        ),
        Tick("Modules in, in the order of the string; the string parted in the middle until last."),
        _hold("whoever is licensed for it has measured isolation, fuses, pre-charge and the service plug"),
    ]


def _driving(study: Study) -> list[Tick]:
    rows = [Tick("Car on corner scales, ready to drive.", "against the table of axles and corners")]
    if study.weights is not None:
        rows.append(Tick("Ride height at each wheel.", "against the table of springs"))
    rows += [
        Tick("Brakes: pedal, park brake, which axle locks first; motor's braking off, then on."),
        Tick("Walking pace on private ground; then look at every bolt's mark, every weld, every hose."),
        _hold("the car has been seen and passed as local rules ask"),
        Tick("After the first 50 km: torque of every marked bolt again.", "common practice, no source"),
    ]
    return rows


def inspection(study: Study) -> tuple[Ticks, ...]:
    """What is measured of each part as made, with what is wanted, and who signs."""
    units = study.build.build.units
    out = []
    for bracket in study.brackets.values():
        if is_refused(bracket):
            continue
        rows = []
        asked = inspection_of(bracket, study.build.shop)
        for flat in asked.flats:
            across, up, play = (format_length(v, units) for v in (flat.across_mm, flat.up_mm, flat.play_mm))
            rows.append(Tick(f"{flat.part}, flat: over all, laid as drawn.", f"{across} by {up}, ± {play}"))
        for name, (_, fold) in fold_numbers(bracket).items():
            inside = format_angle(180.0 - fold.angle_deg, 1)
            rows.append(Tick(f"Fold {name}: inside angle, all along.", f"{inside} ± {asked.fold_play_deg:.1f}°"))
        for pair in asked.pairs:
            rows.append(
                Tick(
                    f"Hole {pair.one} to hole {pair.other}, welded, middle to middle on the side that lies on.",
                    f"{format_length(pair.apart_mm, units)} ± {format_length(pair.play_mm, units)}",
                )
            )
        for fold in bracket.folds:
            if fold.kind == "slit":
                rows.append(
                    Tick(
                        f"Weld of fold {fold.name}.", f"{format_length(fold.weld_length_mm, units)}, whole, no undercut"
                    )
                )
        rows.append(Tick(f"{bracket.name} made as drawn", "Name, date:", sign=True))
        out.append(Ticks(bracket.name, tuple(rows)))
    signs = (
        Tick("Frame and welds judged", "Qualified welder, licence, date:", sign=True),
        Tick("High voltage judged", "Licensed person, licence, date:", sign=True),
        Tick("Brakes, steering, suspension judged", "Licensed mechanic, date:", sign=True),
        Tick("Car passed", "Inspector, place, date:", sign=True),
    )
    return (*out, Ticks("Signed off", signs))
