"""How the table runs on one sheet. The shop, its cutter, thickness and material in; plain numbers out."""

from __future__ import annotations

from halfshaft.build.catalogue.cutter import cutting_row, cutting_rows, use_row
from halfshaft.build.cutter import CutSettingInput, CutterInput
from halfshaft.build.schema import Shop
from halfshaft.checks import Origin, Source
from halfshaft.cut.path.model import Setup

_SAME_MM = 0.3  # a shop's own row is for sheets so near it in thickness


def setup_of(shop: Shop, cutter: CutterInput, thickness_mm: float, material: str) -> Setup:
    """The shop's own row of feeds where it has one for this sheet, else the catalogue's.

    Raises KeyError for a torch that is guided by hand.
    """
    process = shop.cutter.value
    row = cutting_row(process, thickness_mm)
    feed, source = row.feed_mm_min * use_row(process).share_of_feed(material), row.source
    pierce_s, pierce_height, cut_height = row.pierce_s, row.pierce_height_mm, row.cut_height_mm
    own = _own(cutter, thickness_mm, material)
    if own is not None:
        feed, source = own.feed_mm_min, Source(Origin.BUILDER, "[[cutter.setting]]")
        pierce_s = pierce_s if own.pierce_s is None else own.pierce_s
        pierce_height = pierce_height if own.pierce_height_mm is None else own.pierce_height_mm
        cut_height = cut_height if own.cut_height_mm is None else own.cut_height_mm
    return Setup(
        process=process,
        kerf_mm=shop.kerf_mm,
        thickness_mm=thickness_mm,
        feed_mm_min=feed,
        pierce_s=round(pierce_s, 3),  # as the control reads it
        pierce_height_mm=pierce_height,
        cut_height_mm=cut_height,
        travel_height_mm=max(cutter.travel_height_mm, pierce_height, cut_height),
        rapid_mm_min=cutter.rapid_mm_min,
        lead=cutter.lead,
        lead_in_mm=cutter.lead_in_mm,
        lead_out_mm=cutter.lead_out_mm,
        overrun_mm=cutter.overrun_mm,
        pierce_width_mm=cutter.pierce_width_kerfs * shop.kerf_mm,
        corner_clear_mm=cutter.corner_clear_mm,
        edge_clear_mm=cutter.edge_clear_mm,
        least_hole_mm=shop.least_hole_mm,
        slow_under_mm=cutter.small_hole * thickness_mm,
        slow_share=cutter.small_hole_feed,
        good_side=cutter.good_side,
        heat_gap_mm=cutter.heat_gap_mm,
        tabs=cutter.tabs,
        tab_width_mm=cutter.tab_width_mm,
        marker=cutter.marker,
        mark_feed_mm_min=cutter.mark_feed_mm_min,
        mark_height_mm=cutter.mark_height_mm,
        mark_lift_mm=cutter.mark_lift_mm,
        heights=cutter.code.heights,
        feed_source=source,
    )


def in_table(shop: Shop, cutter: CutterInput, thickness_mm: float, material: str) -> bool:
    """Whether the feed is the shop's own or between rows of the catalogue."""
    rows = cutting_rows(shop.cutter.value)
    within = rows[0].thickness_mm - _SAME_MM <= thickness_mm <= rows[-1].thickness_mm + _SAME_MM
    return within or _own(cutter, thickness_mm, material) is not None


def _own(cutter: CutterInput, thickness_mm: float, material: str) -> CutSettingInput | None:
    """The shop's nearest row for this thickness; one for this very material goes first."""
    fit = [
        row
        for row in cutter.setting
        if abs(row.thickness_mm - thickness_mm) < _SAME_MM and row.material in (None, material)
    ]
    return min(fit, key=lambda row: (row.material is None, abs(row.thickness_mm - thickness_mm)), default=None)
