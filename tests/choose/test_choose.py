"""Choices driven: each as the road drives it, the same wherever it is worked, and taken up where it was left."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from itertools import product
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from typer.testing import CliRunner

from halfshaft.build import BuildProblems, load
from halfshaft.build.catalogue import default
from halfshaft.choose import station
from halfshaft.choose.cluster import NoCluster, on_cluster
from halfshaft.choose.drive import driven
from halfshaft.choose.files import variants_csv
from halfshaft.choose.judge import costs_of, worth_of
from halfshaft.choose.model import Driven, Sweep
from halfshaft.choose.picture import scatter
from halfshaft.choose.station import chosen
from halfshaft.choose.workers import Job, here, jobs_of
from halfshaft.cli import app
from halfshaft.progress import Stopped
from halfshaft.study import driven as on_the_road
from tests.choose.builds import BATTERY, CAR, CHOOSE, sweep, written


def variant(told: Sweep, **names: str) -> int:
    return next(
        n
        for n in range(told.count)
        if all(
            part.options[at].name == names.get(part.name, part.options[at].name)
            for part, at in zip(told.parts, told.options(n), strict=True)
        )
    )


def test_a_variant_is_what_the_road_says_of_a_build_so_written(tmp_path: Path) -> None:
    told = sweep(tmp_path / "a")
    at = variant(told, gear="8", cells="2", motor="large")
    row = driven(told, at, at + 1)[0]
    # the same car written by hand: two strings of eight modules of 11.8 kg with 35 % for boxes, a motor of 60 kg in the
    # place of a usual one, and its losses as those of the map at the same share of load
    mass = 1300 + 8 * 11.8 * 1.35 + 60 - float(default("motor.mass_per_kw").value) * 85
    car = CAR.replace("ratio = 8.5", "ratio = 8").replace("mass = 1300", f"mass = {mass:.6f}")
    car = car.replace('power = "85 kW"', 'power = "110 kW"').replace("torque = 220", "torque = 220\nmass = 60")
    folder = written(tmp_path / "b", "", car, BATTERY.replace("series = 8", "series = 8\nparallel = 2"))
    _, road = on_the_road(folder)
    assert road is not None
    base = road.inputs.motor
    share = 260 / 220
    other = (
        f"copper = {base.kc / share!r}\niron = {base.ki * share!r}\nwindage = {base.kw * share!r}\n"
        f"fixed = {base.c_w * share!r}\n"
    )
    car = car.replace("torque = 220", "torque = 260").replace('map = "motor_map.csv"\n', other)
    _, road = on_the_road(written(tmp_path / "b", "", car, BATTERY.replace("series = 8", "series = 8\nparallel = 2")))
    assert road is not None
    drive = road.drives[0]
    assert row.range_m == pytest.approx(drive.range_m, rel=1e-9)
    assert row.wall_wh_m == pytest.approx(drive.wall_wh_m, rel=1e-9)
    assert row.hundred_s == pytest.approx(road.pull.hundred_s, rel=1e-9)
    assert row.top_m_s == pytest.approx(road.pull.top_m_s, rel=1e-9)
    assert row.charge_s == pytest.approx(road.plugs[0].ten_eighty_s, rel=2e-3)
    assert row.weight_kg == pytest.approx(mass)
    assert (row.cost, row.cost_spread) == (1000 + 4000 + 2100, pytest.approx(50.0))


def test_every_combination_is_driven_and_none_kept_is_beaten(tmp_path: Path) -> None:
    found = chosen(sweep(tmp_path), processes=1)
    assert len(found.rows) == 12
    names = {tuple(sorted(found.named(n).items())) for n in range(12)}
    whole = product(("6", "8", "10"), ("1", "2"), ("small", "large"))
    assert names == {tuple(sorted({"gear": g, "cells": c, "motor": m}.items())) for g, c, m in whole}
    can = [n for n, row in enumerate(found.rows) if not row.why]
    costs = np.floor(costs_of(found.rows, found.aims) / worth_of(found.sweep.told.worth, found.aims) + 0.5)
    for n in can:
        beaten = any(np.all(costs[m] <= costs[n]) and (np.any(costs[m] < costs[n]) or m < n) for m in can if m != n)
        assert bool(found.kept[n]) != beaten
    assert not any(found.kept[n] for n in range(12) if n not in can)
    assert {pick.variant for pick in found.picks} <= set(np.flatnonzero(found.kept).tolist())


def test_heavier_shorter_and_weaker_have_their_price(tmp_path: Path) -> None:
    told = sweep(tmp_path)
    rows = driven(told, 0, told.count)

    def of(**names: str) -> Driven:
        return rows[variant(told, **names)]

    for gear, motor in product(("6", "8", "10"), ("small", "large")):
        one, two = of(gear=gear, motor=motor, cells="1"), of(gear=gear, motor=motor, cells="2")
        assert two.range_m > 1.7 * one.range_m  # more energy, but more to carry
        assert two.range_m < 2.05 * one.range_m
        assert two.weight_kg > one.weight_kg
        assert two.cost > one.cost
    for gear, cells in product(("6", "8", "10"), ("1", "2")):
        weak, strong = of(gear=gear, cells=cells, motor="small"), of(gear=gear, cells=cells, motor="large")
        assert strong.hundred_s <= weak.hundred_s
        assert strong.weight_kg == pytest.approx(weak.weight_kg + 20.0)
    option = "\n[choose.part.load.option.{}]\nset = {{}}\n{}\n"
    more = sweep(tmp_path, CHOOSE + option.format("no", "cost = 1") + option.format("ballast", 'mass = "90 kg"'))
    light, laden = (
        driven(more, n, n + 1)[0]
        for n in (variant(more, load="no", gear="8", cells="2", motor="large"),
                  variant(more, load="ballast", gear="8", cells="2", motor="large"))
    )  # fmt: skip
    assert laden.range_m < light.range_m
    assert laden.hundred_s > light.hundred_s
    assert laden.weight_kg == pytest.approx(light.weight_kg + 90.0)


def test_processes_and_a_cluster_give_the_same_numbers_to_the_last_digit(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    told = sweep(tmp_path)
    alone = chosen(told, processes=1, size=2)
    jobs = jobs_of(told.count, 2)
    spread = dict(here(told, jobs, 2))
    assert [row for job in jobs for row in spread[job]] == list(alone.rows)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None, silence_logs=50
    ) as cluster:
        shared = chosen(told, cluster=cluster.scheduler_address, size=2)
    assert shared.rows == alone.rows
    assert list(shared.kept) == list(alone.kept)


def test_no_cluster_at_an_address_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("halfshaft.choose.cluster.WAIT_S", 0.2)
    with pytest.raises(NoCluster, match="no cluster answers at"):
        next(on_cluster(sweep(tmp_path), jobs_of(2, 1), "tcp://127.0.0.1:9"))


def test_a_killed_sweep_goes_on_where_it_was_and_a_torn_line_is_worked_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told, out = sweep(tmp_path), tmp_path / "out" / "choose"
    worked: list[int] = []

    def counted(one: Sweep, jobs: Sequence[Job], processes: int = 0) -> Iterator[tuple[Job, list[Driven]]]:
        for job, rows in here(one, jobs, processes):
            worked.append(job.number)
            yield job, rows

    def stop(share: float, words: str) -> None:
        if len(worked) == 4:
            raise Stopped

    monkeypatch.setattr(station, "here", counted)
    with pytest.raises(Stopped):
        chosen(told, out, processes=1, size=2, progress=stop)
    journal = next(out.glob("journal-*.jsonl"))
    lines = journal.read_bytes().splitlines(keepends=True)
    assert len(lines) == 4
    journal.write_bytes(b"".join(lines[:3]) + lines[3][: len(lines[3]) // 2])
    worked.clear()
    found = chosen(told, out, processes=1, size=2)
    assert worked == [3, 4, 5]
    assert found.rows == chosen(told, processes=1, size=2).rows
    worked.clear()
    assert chosen(told, out, processes=1, size=2).rows == found.rows
    assert worked == []
    # another build is another journal
    other = sweep(tmp_path, CHOOSE.replace("cost = 1200", "cost = 1300"))
    assert chosen(other, out, processes=1, size=2).rows != found.rows
    assert worked == [0, 1, 2, 3, 4, 5]


def test_what_cannot_be_built_is_left_out_and_says_why(tmp_path: Path) -> None:
    high = CHOOSE.replace("values = [1, 2]", "values = [1]").replace("cost = [2000, 4000]", "cost = 2000")
    high = high.replace('key = "pack.parallel"', 'key = "pack.series"').replace("values = [1]", "values = [7, 8, 30]")
    found = chosen(sweep(tmp_path, high), processes=1)
    for n, row in enumerate(found.rows):
        assert ("inverter" in row.why) == (found.named(n)["cells"] == "30")
        assert not (row.why and found.kept[n])
    assert any(c.title.endswith("cannot be built so") for c in found.checks)
    assert any("asked by telephone" in c.do for c in found.checks)


def test_a_table_and_a_picture_are_whole(tmp_path: Path) -> None:
    found = chosen(sweep(tmp_path), processes=1)
    rows = list(csv.DictReader(io.StringIO(variants_csv(found, "metric"))))
    assert len(rows) == 12
    assert [float(row["range, km"]) for row in rows] == pytest.approx([r.range_m / 1000 for r in found.rows], rel=1e-5)
    assert sum(row["unbeaten"] == "yes" for row in rows) == found.kept.sum()
    root = ElementTree.fromstring(scatter(found, "inch"))
    circles = root.findall("{http://www.w3.org/2000/svg}circle")
    assert len(circles) >= sum(not row.why for row in found.rows)
    words = " ".join(text.text or "" for text in root.iter("{http://www.w3.org/2000/svg}text"))
    assert "range, mi" in words
    assert "cost, $" in words


def test_the_command_tells_all_and_writes_its_files(tmp_path: Path) -> None:
    folder = written(tmp_path)
    done = CliRunner().invoke(app, ["choose", str(folder), "--processes", "1", "--json"])
    assert done.exit_code == 0
    values = json.loads(done.output)
    assert values["count"] == 12
    assert values["unbeaten"] == sum(one["unbeaten"] for one in values["variants"])
    assert {"range_m", "hundred_s", "top_m_s", "cost", "charge_s", "weight_kg"} <= set(values["variants"][0])
    assert {path.name for path in (folder / "out" / "choose").iterdir()} >= {"variants.csv", "trade.svg"}
    plain = CliRunner().invoke(app, ["choose", str(written(tmp_path / "none", ""))])
    assert plain.exit_code == 1


def test_what_cannot_be_chosen_is_told_all_at_once(tmp_path: Path) -> None:
    text = (
        CHOOSE.replace('"car.gear.ratio"', '"car.gear.rato"')
        .replace("steps = 3", "")
        .replace("cost = [2000, 4000]", "cost = [2000]")
        .replace('money = "$"', 'station = "twon"\ncycle = "wltp-9"')
    )
    with pytest.raises(BuildProblems) as refused:
        load(written(tmp_path, text))
    words = str(refused.value)
    for part in ("Write from, to and steps", "1 costs for 2 values", "Write 'town'", "wltp-9"):
        assert part in words
    text = (
        CHOOSE.replace('"car.gear.ratio"', '"car.gear.rato"')
        .replace('"180 Nm"', '"180 miles"')
        .replace('"pack.parallel"', '"car.mass"')
    )
    with pytest.raises(BuildProblems) as refused:
        load(written(tmp_path, text))
    words = str(refused.value)
    assert "there is no key 'rato'" in words
    assert "Write ratio" in words
    assert "torque" in words
    assert "the car's own" in words
    many = CHOOSE.replace("steps = 3", "steps = 1000").replace("[choose]\n", "[choose]\nmost = 500\n")
    with pytest.raises(BuildProblems) as refused:
        load(written(tmp_path, many))
    assert "1000 x 2 x 2 = 4000 variants" in str(refused.value)
