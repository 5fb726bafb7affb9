"""Designs through the whole program: one metal is the plain piece, several are sound."""

from __future__ import annotations

import csv
import json
import math
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

import chainplan
from chainplan.reference import find_metal

if TYPE_CHECKING:
    from pathlib import Path

PIECE = """[[piece]]
name = "Small chain"
weave = "byzantine"
wire = "1.0mm"
inner = "3.5mm"
metal = "{metal}"
rings = 36
{more}
"""
RULE = """
[[design]]
design = "mixed"
rule = "{rule}"
which = "{which}"
metals = "{metals}"
"""


def read(folder: Path, metal: str, rule: str = "", which: str = "", metals: str = "") -> object:
    """Read such a job; without a rule a plain one."""
    more = 'design = "mixed"' + RULE.format(rule=rule, which=which, metals=metals) if rule else ""
    path = folder / "small.toml"
    path.write_text(PIECE.format(metal=metal, more=more), encoding="utf-8")
    return chainplan.read_job(path)


def ring_g(metal: str) -> float:
    """Mass of a ring of 1.0 mm wire, 3.5 mm inside: a torus, wire's section times middle line."""
    return find_metal(metal).density_g_cm3.usual * (math.pi / 4 * 0.1**2) * (math.pi * 0.45)


@pytest.mark.parametrize("metal", ["copper", "sterling-silver"])
def test_a_design_of_one_metal_plans_as_the_plain_piece_to_the_byte(
    tmp_path: Path, metal: str
) -> None:
    """Whether it is the piece's own metal or all of it is painted over; but for the file's hash."""
    plain = replace(read(tmp_path, "copper"), input_sha256="0" * 64)
    mixed = replace(
        read(tmp_path, metal, "list along", "AAB", "A copper, B copper"), input_sha256="0" * 64
    )
    folders = [
        chainplan.write_plan(chainplan.make_plan(job), tmp_path / name)
        for job, name in ((plain, "plain"), (mixed, "mixed"))
    ]
    files = [
        {
            path.relative_to(folder): path.read_bytes()
            for path in folder.rglob("*")
            if path.is_file()
        }
        for folder in folders
    ]
    assert files[0].keys() == files[1].keys()
    assert [str(name) for name in files[0] if files[0][name] != files[1][name]] == []


def test_two_metals_are_planned_counted_and_examined(tmp_path: Path) -> None:
    """Counts by metal are those of rings.csv; settings, passes and wire follow the ring."""
    job = read(tmp_path, "sterling-silver", "part", "connector", "copper")
    folder = chainplan.write_plan(chainplan.make_plan(job), tmp_path / "out")
    assert chainplan.examine_plan(folder).ok
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    with (folder / "rings.csv").open(encoding="utf-8", newline="") as file:
        metal = [row["metal"] for row in csv.DictReader(file)]
    counted = Counter(metal)
    (section,) = plan["pieces"][0]["sections"]
    assert section["design"] == "mixed"
    assert {item["metal"]: item["rings"] for item in section["metals"]} == counted
    groups = plan["estimates"]["counts"][0]["groups"]
    assert {group["metal"]: group["rings"] for group in groups} == counted
    assert {need["metal"] for need in plan["estimates"]["wire"]} == set(counted)
    grams = sum(item["mass_g"] for item in section["metals"])
    assert grams == pytest.approx(section["mass_g"], rel=1e-5)
    own_g = {name: count * ring_g(name) for name, count in counted.items()}
    wire = {need["metal"]: need for need in plan["estimates"]["wire"]}
    for item in section["metals"]:
        need = wire[item["metal"]]
        assert item["mass_g"] == pytest.approx(own_g[item["metal"]], rel=1e-5)
        assert need["mass_in_piece_g"] == pytest.approx(own_g[item["metal"]], rel=1e-5)
        whole = need["mass_in_piece_g"] + need["scrap_g"]
        assert need["mass_used_g"] == pytest.approx(whole, rel=1e-5)
    power = {line["metal"]: line["setting"]["power_j"] for line in plan["estimates"]["settings"]}
    order = plan["order"]["pieces"][0]
    for item in order["passes"]:
        rings = order["rings"][item["first_step"] : item["first_step"] + item["joins"]]
        assert {power[metal[ring - 1]] for ring in rings} == {item["setting"]["power_j"]}
    assert (folder / "weaving.pdf").is_file()
