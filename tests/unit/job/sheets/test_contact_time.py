"""A contact time sets how warm the fingers may have it."""

from __future__ import annotations

import pytest

from chainplan.job import check_job, read_job


@pytest.mark.parametrize(("contact_s", "limit_c"), [(0, 48.0), (1, 65.0), (30, 51.0), (1e5, 43.0)])
def test_contact_time_sets_the_limit_of_the_fingers(contact_s, limit_c, toml, four_weaves):
    """Burn thresholds of bare metal; without a contact time the default holds."""
    job = read_job(toml(f"[bench.heat]\ncontact_s = {contact_s}\n"), weaves=four_weaves)
    assert job.bench.heat.finger_limit_c == limit_c


def test_a_limit_above_the_burn_threshold_is_refused_and_a_lower_one_kept(toml, four_weaves):
    """Both may be given, if they agree."""
    lower = "[bench.heat]\ncontact_s = 60\nfinger_limit_c = 45\n"
    assert read_job(toml(lower), weaves=four_weaves).bench.heat.finger_limit_c == 45.0
    above = "[bench.heat]\ncontact_s = 600\nfinger_limit_c = 50\n"
    (fault,) = check_job(toml(above), weaves=four_weaves)
    assert "above the burn threshold" in fault.found
    assert "48" in fault.allowed


def test_a_reserve_that_reaches_down_to_the_room_is_refused(toml, four_weaves):
    """No wait would keep it."""
    (fault,) = check_job(
        toml("[bench.heat]\nfinger_limit_c = 45\nreserve_k = 30\n"), weaves=four_weaves
    )
    assert fault.allowed == "a limit must be above the room"
