"""Cooling curves: what was put in comes out, within the interval that is told."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.heat import (
    bench_of_loose_ring,
    bench_of_pulsed_ring,
    bench_of_warm_piece,
    build_heat_model,
    fit_cooling,
    link_load_mn,
    ranges_of,
    read_readings,
)
from chainplan.model.thermal.calibration import Readings

if TYPE_CHECKING:
    from pathlib import Path

ROOM_C, PULSE_J = 21.0, 12.0


def readings(time_s: np.ndarray, temperature_c: np.ndarray) -> Readings:
    return Readings(file="made up", time_s=time_s, temperature_c=temperature_c)


def true_run(layout, metals, settings, time_s, *, welded, read, corner="usual"):
    """Curve of a pulse by the plan's own model, without the code of the fit."""
    heat = build_heat_model(layout, metals=metals, settings=settings, join_heat_set_j=PULSE_J)
    run = heat.simulate(corner, np.array([welded]), np.zeros(1), time_s)
    return run.at_c[:, read], heat.networks[corner]


def fits(layout, metals, settings, bench, clean, time_s, noise_k, seeds, **more):
    for seed in seeds:
        chance = np.random.default_rng(seed)
        noisy = readings(time_s, clean + chance.normal(0, noise_k, len(time_s)))
        room_c = ROOM_C + chance.normal(0, 0.5)
        yield fit_cooling(noisy, bench, room_c=room_c, room_within_k=0.5, **more)


@pytest.mark.parametrize("true", [0.2, 0.5, 1.0])
def test_a_warm_piece_read_to_whole_degrees_gives_its_exposure(chain, metals, settings, true):
    """Two minutes of readings: within a tenth, and the interval covers the truth."""
    bench = bench_of_warm_piece(chain(8), metals=metals, settings=settings)
    network = bench.network
    time_s = np.arange(0.0, 125.0, 5.0)
    rate = true * network.loss_w_k[0] / network.capacity_j_k[0]
    curve = np.rint(ROOM_C + 45 * np.exp(-rate * time_s))
    fit = fit_cooling(readings(time_s, curve), bench, room_c=ROOM_C)
    assert fit.exposure.usual == pytest.approx(true, rel=0.1)
    assert fit.exposure.low <= true <= fit.exposure.high
    assert fit.residual_k < 1.0
    assert fit.arc_share is None
    assert fit.link_w_k is None


def test_exposure_of_a_simulated_warm_piece_gives_its_cooling_back(sheet, metals, settings):
    """All rings of a sheet warmed alike, then left: nothing flows along links."""
    layout, own = sheet(6, 4), replace(settings, exposure=0.33)
    heat = build_heat_model(layout, metals=metals, settings=own, join_heat_set_j=10.0)
    time_s = np.arange(2.0, 200.0, 10.0)
    run = heat.simulate("usual", np.arange(24), np.zeros(24), time_s)
    bench = bench_of_warm_piece(layout, metals=metals, settings=settings)
    fit = fit_cooling(readings(time_s, run.at_c[:, 11]), bench, room_c=ROOM_C)
    assert fit.exposure.usual == pytest.approx(0.33, rel=1e-6)


@pytest.mark.parametrize("metal", ["sterling-silver", "stainless-304", "copper"])
@pytest.mark.parametrize("shape", ["chain", "sheet"])
def test_a_pulsed_ring_gives_all_three_numbers_exactly_without_noise(
    chain, sheet, metals, settings, shape, metal
):
    """The fit and the plan's simulation are one model: what went in comes out."""
    layout = chain(40, metal=metal) if shape == "chain" else sheet(9, 8, metal=metal)
    own = replace(settings, exposure=0.45, arc_share_usual=0.52, link_load_usual_mn=17.0)
    welded = layout.rings // 2
    time_s = np.arange(-4.0, 150.0, 2.0)
    clean, network = true_run(layout, metals, own, time_s, welded=welded, read=welded)
    bench = bench_of_pulsed_ring(
        layout, metals=metals, settings=settings, pulse_j=PULSE_J, ring=welded, read=welded
    )
    fit = fit_cooling(readings(time_s, clean), bench, room_c=ROOM_C)
    assert fit.exposure.usual == pytest.approx(0.45, rel=1e-4)
    assert fit.arc_share.usual == pytest.approx(0.52, rel=1e-4)
    assert fit.link_w_k.usual == pytest.approx(network.pair_w_k[0], rel=1e-4)
    assert link_load_mn(layout, metals, 0, fit.link_w_k.usual) == pytest.approx(17.0, rel=1e-3)


def test_the_loose_ring_tells_the_arc_s_share(chain, metals, settings):
    """One ring alone: the first readings over the set energy, nothing of links."""
    own = replace(settings, exposure=1.1, arc_share_usual=0.7)
    time_s = np.arange(0.0, 90.0, 3.0)
    clean, _ = true_run(chain(1), metals, own, time_s, welded=0, read=0)
    bench = bench_of_loose_ring(chain(12), metals=metals, settings=settings, pulse_j=PULSE_J)
    fit = fit_cooling(readings(time_s, clean), bench, room_c=ROOM_C)
    assert fit.arc_share.usual == pytest.approx(0.7, rel=1e-6)
    assert fit.exposure.usual == pytest.approx(1.1, rel=1e-6)
    assert fit.link_w_k is None


def test_intervals_of_90_per_cent_hold_the_truth_in_nine_of_ten_curves(chain, metals, settings):
    """Two hundred curves, errors of 1 K, of the room 0.5 K, without the floors: coverage itself.

    Of 200 honest intervals of 90 % between 167 and 192 hold the truth in 99.8 of 100 cases
    (binomial). Each number is asked on its own.
    """
    layout, welded = chain(30), 15
    own = replace(settings, exposure=0.8, arc_share_usual=0.5, link_load_usual_mn=20.0)
    time_s = np.arange(2.0, 122.0, 2.0)
    clean, network = true_run(layout, metals, own, time_s, welded=welded, read=welded)
    bench = bench_of_pulsed_ring(
        layout, metals=metals, settings=settings, pulse_j=PULSE_J, ring=welded, read=welded
    )
    truth = {"exposure": 0.8, "arc_share": 0.5, "link_w_k": float(network.pair_w_k[0])}
    hits = dict.fromkeys(truth, 0)
    for fit in fits(layout, metals, settings, bench, clean, time_s, 1.0, range(200), floors=False):
        for name, value in truth.items():
            hits[name] += getattr(fit, name).low <= value <= getattr(fit, name).high
    assert all(167 <= count <= 192 for count in hits.values()), hits


@pytest.mark.parametrize("seed", range(5))
def test_smoothed_readings_do_not_pass_for_exact(chain, metals, settings, seed):
    """A logger that averages over ten readings tells the same thing ten times."""
    bench = bench_of_warm_piece(chain(8), metals=metals, settings=settings)
    rate = 0.6 * bench.network.loss_w_k[0] / bench.network.capacity_j_k[0]
    time_s = np.arange(0.0, 120.0, 0.5)
    noise = np.random.default_rng(seed).normal(0, 3.0, len(time_s) + 9)
    smooth = np.convolve(noise, np.ones(10) / 10, "valid")
    curve = ROOM_C + 50 * np.exp(-rate * time_s)
    plain = fit_cooling(
        readings(time_s, curve + noise[9:] / 10**0.5), bench, room_c=ROOM_C, floors=False
    )
    fit = fit_cooling(readings(time_s, curve + smooth), bench, room_c=ROOM_C, floors=False)
    assert fit.likeness > 0.6
    width = fit.exposure.high - fit.exposure.low
    assert width > 1.5 * (plain.exposure.high - plain.exposure.low)
    assert abs(fit.exposure.usual - 0.6) < 1.5 * width


def test_a_long_chain_is_measured_by_the_rings_near_the_pulse(chain, metals, settings):
    """Of 3000 rings 400 are kept; the whole piece's kernels give the same curve."""
    layout, welded = chain(3000), 1500
    time_s = np.arange(2.0, 120.0, 4.0)
    clean, network = true_run(layout, metals, settings, time_s, welded=welded, read=welded + 1)
    bench = bench_of_pulsed_ring(
        layout, metals=metals, settings=settings, pulse_j=PULSE_J, ring=welded, read=welded + 1
    )
    assert len(bench.network.capacity_j_k) == 400
    fit = fit_cooling(readings(time_s, clean), bench, room_c=ROOM_C)
    assert fit.link_w_k.usual == pytest.approx(network.pair_w_k[0], rel=0.01)
    with pytest.raises(InputError, match="too far from ring 1501"):
        bench_of_pulsed_ring(
            layout, metals=metals, settings=settings, pulse_j=PULSE_J, ring=welded, read=0
        )


def test_ranges_are_those_that_a_plan_has(chain, metals, settings):
    """What is told beside a measured number is what the heat model takes."""
    now = ranges_of(chain(9), metals, settings, 0)
    heat = build_heat_model(chain(9), metals=metals, settings=settings, join_heat_set_j=1.0)
    assert now.link_w_k.usual == heat.networks["usual"].pair_w_k[0]
    assert (now.arc_share.low, now.arc_share.high) == (
        settings.arc_share_low, settings.arc_share_high,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("times", "temps", "words"),
    [
        (np.arange(9.0), np.full(9, 24.0), "at least 5 are needed"),
        (np.arange(9.0), np.linspace(50, 60, 9), "did not cool"),
        (np.arange(9.0), np.linspace(50, 51, 9), "did not cool"),
        (np.arange(9.0), np.full(9, 50.0), "did not cool"),
        (np.zeros(9), np.full(9, 60.0), "at least 5 are needed"),
    ],
)
def test_an_unusable_curve_is_refused_with_the_reason(chain, metals, settings, times, temps, words):
    """Too cold, rising, or all at one time."""
    bench = bench_of_warm_piece(chain(3), metals=metals, settings=settings)
    with pytest.raises(InputError, match=words):
        fit_cooling(readings(times, temps), bench, room_c=ROOM_C)


def test_readings_come_with_units_commas_and_remarks(tmp_path: Path):
    """Loggers write minutes, Fahrenheit and decimal commas, and rows in any order."""
    path = tmp_path / "curve.csv"
    rows = "\n".join(f"{k / 2:g};{212 - k:g}".replace(".", ",") for k in range(9, -1, -1))
    path.write_text(
        f"  # by hand, as it came\nTime (min);note;Temperature °F\n{rows.replace(';', ';;')}\n"
    )
    found = read_readings(path)
    assert found.time_s == pytest.approx(np.arange(10) * 30.0)
    assert found.temperature_c[0] == pytest.approx(100.0)
    assert found.temperature_c[9] == pytest.approx((203 - 32) / 1.8)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("a,b\n1,2\n", "headings 'a', 'b'"),
        ("time,temperature\n" + "1,50\n" * 3, "3 readings.*at least 8"),
        ("time,temperature\n1,hot\n2,nan\n3\n", "line 2: 'hot' is no number(.|\n)*line 4"),
    ],
)
def test_a_file_that_is_no_cooling_curve_is_refused_with_its_lines(tmp_path: Path, text, words):
    """All faults at once."""
    path = tmp_path / "curve.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=words):
        read_readings(path)
