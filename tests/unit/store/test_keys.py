"""Every input that matters changes the key of a piece, and none that does not."""

from __future__ import annotations

import datetime
from dataclasses import fields, replace
from decimal import Decimal
from enum import Enum
from typing import TYPE_CHECKING

import pytest

from chainplan.model.bench import Bench
from chainplan.model.job import Job, Price, RecordedSetting
from chainplan.model.piece.fittings import Fitting, FittingKind
from chainplan.public.pieces import _key_of, plan_pieces, task_of
from chainplan.reference import find_metal
from chainplan.store import ResultShelf, key_of
from tests.unit.store.test_packing import same

if TYPE_CHECKING:
    from pathlib import Path

DO_NOT_MATTER = {
    "quantity",
    "due",
    "late_weight",
    "list_price",
    "customer",
    "minutes",
    "notes",
    "where",
}
"""Fields of a piece that no weld order depends on."""
UNUSED_GROUPS = {"wire", "stations", "money", "calendar", "quote", "sheet"}
"""Groups of the bench that come after the weld order."""


def another(value: object) -> object:
    """A value unlike the one given, of its kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, Enum):
        return next(item for item in type(value) if item is not value)
    if isinstance(value, (int, float)):
        return value * 1.01 + 1e-6 if isinstance(value, float) else value + 1
    if isinstance(value, Decimal):
        return value + 1
    if isinstance(value, str):
        return value + "x"
    if isinstance(value, datetime.date):
        return value + datetime.timedelta(days=1)
    if value is None:
        return 1
    if isinstance(value, tuple):
        return (*value, *value[:1]) if value else (1,)
    if isinstance(value, frozenset):
        return value | {"x"}
    raise TypeError(type(value))


def changed(item: object, name: str) -> object:
    """The same frozen thing with one field changed, whether or not that makes sense at a bench."""
    copy = object.__new__(type(item))
    for own in fields(item):
        value = getattr(item, own.name)
        object.__setattr__(copy, own.name, another(value) if own.name == name else value)
    return copy


def key(job: Job, number: int = 0) -> str:
    return _key_of(task_of(job, job.pieces[number]))


def test_every_setting_of_the_bench(job: Job) -> None:
    """Settings of a group that weld orders know change the key, all others leave it."""
    for group in fields(Bench):
        settings = getattr(job.bench, group.name)
        for item in fields(settings):
            bench = replace(job.bench, **{group.name: changed(settings, item.name)})
            differs = key(replace(job, bench=bench)) != key(job)
            assert differs == (group.name not in UNUSED_GROUPS), f"{group.name}.{item.name}"


def test_every_column_of_a_piece_and_a_section(job: Job) -> None:
    """The columns that do not matter are listed by name."""
    piece = job.pieces[0]
    for item in fields(piece):
        if item.name in ("sections", "fittings"):
            continue
        other = replace(job, pieces=(changed(piece, item.name), job.pieces[1]))
        assert (key(other) != key(job)) == (item.name not in DO_NOT_MATTER), item.name
    tag = Fitting(piece=piece.name, name="tag", kind=FittingKind.TAG, price=Decimal(2))
    with_tag = replace(job, pieces=(replace(piece, fittings=(tag,)),))
    assert key(with_tag) != key(job)
    for item in fields(tag):
        fittings = (changed(tag, item.name),)
        other = replace(job, pieces=(replace(piece, fittings=fittings),))
        matters = item.name not in ("price", "delivery_days", "notes")
        assert (key(other) != key(with_tag)) == matters, item.name
    for item in fields(piece.sections[0]):
        sections = (changed(piece.sections[0], item.name),)
        other = replace(job, pieces=(replace(piece, sections=sections), job.pieces[1]))
        assert (key(other) != key(job)) == (item.name != "where"), item.name


def test_prices_dates_and_other_pieces_do_not_matter(job: Job) -> None:
    """What a job has beside the piece, with a plan to show that it is the same."""
    other = replace(
        job,
        name="another",
        prices=(Price(item="copper", price=Decimal(9), per="kg"),),
        start_date=datetime.date(2026, 3, 2),
        pieces=job.pieces[:1],
        input_sha256="0",
        warnings=("a note",),
    )
    assert key(other) == key(job)
    one, two = plan_pieces(job)[0], plan_pieces(other)[0]
    assert all(same(getattr(one, n), getattr(two, n)) for n in ("layout", "joins", "heat", "order"))


def test_metals_and_recorded_settings_matter(job: Job) -> None:
    """A metal of the job's own, or a setting that was good, may be any piece's."""
    metal = find_metal("copper")
    own = replace(metal, density_g_cm3=replace(metal.density_g_cm3, usual=9.1))
    other = replace(job, metals={"copper": own})
    assert key(other) != key(job)
    good = RecordedSetting(metal="copper", wire_mm=1.2, power_j=21.0)
    assert key(replace(job, recorded=(good,))) != key(job)


def test_a_weave_file_is_known_by_what_stands_in_it(
    job: Job, tmp_path: Path, samples: Path
) -> None:
    """The same name with other content is another weave."""
    path = tmp_path / "own.toml"
    path.write_bytes((samples / "my-weave.toml").read_bytes())
    section = replace(job.pieces[0].sections[0], weave=str(path))
    with_own = replace(job, pieces=(replace(job.pieces[0], sections=(section,)),))
    before = key(with_own)
    path.write_bytes(path.read_bytes() + b"\n# changed\n")
    assert key(with_own) != before


def test_seed_effort_and_code_matter(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    """So does every file of the stages."""
    piece = job.pieces[0]
    plain = _key_of(task_of(job, piece))
    assert _key_of(task_of(job, piece, seed=1)) != plain
    assert _key_of(task_of(job, piece, effort="thorough")) != plain
    monkeypatch.setattr("chainplan.store.version.stage_versions", lambda: (("order", "other"),))
    assert _key_of(task_of(job, piece)) != plain


def test_the_digest_of_a_stage_follows_its_files(tmp_path: Path) -> None:
    """Code and data, by content and by name."""
    from chainplan.store.version import _digest_of

    (tmp_path / "a.py").write_text("one")
    before = _digest_of(tmp_path)
    (tmp_path / "note.md").write_text("no code")
    assert _digest_of(tmp_path) == before
    (tmp_path / "b.csv").write_text("1,2")
    with_table = _digest_of(tmp_path)
    (tmp_path / "b.csv").write_text("1,3")
    assert len({before, with_table, _digest_of(tmp_path)}) == 3


def test_numbers_that_look_alike_have_keys_of_their_own() -> None:
    """3, 3.0, "3" and True; and what cannot be written one way has none."""
    assert len({key_of(value) for value in (3, 3.0, "3", True, 1, (3,), ((3,),), None)}) == 8
    with pytest.raises(TypeError):
        key_of(object())


def test_a_piece_that_was_planned_is_not_planned_again(
    job: Job, shelf: ResultShelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Prices may change; one piece changed is planned alone; a kept plan is the plan."""
    first = plan_pieces(job, shelf=shelf)
    assert len(list(shelf.folder.rglob("*.kept"))) == 2
    import chainplan.public.pieces as module

    planned: list[str] = []
    real = module.plan_piece

    def counted(job, piece, *args, **kwargs):
        planned.append(piece.name)
        return real(job, piece, *args, **kwargs)

    monkeypatch.setattr(module, "plan_piece", counted)
    dearer = replace(job, prices=(Price(item="copper", price=Decimal(99), per="kg"),))
    again = plan_pieces(dearer, shelf=shelf)
    assert planned == []
    for one, two in zip(first, again, strict=True):
        assert same(replace(one, counts=()), replace(two, counts=()))
        assert [count.mass_g for count in one.counts] == [count.mass_g for count in two.counts]
    fewer = replace(job.pieces[1], sections=(replace(job.pieces[1].sections[0], rings=5),))
    plan_pieces(replace(job, pieces=(job.pieces[0], fewer)), shelf=shelf)
    assert planned == ["Earring"]
