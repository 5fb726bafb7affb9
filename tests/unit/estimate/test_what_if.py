"""Changes of prices and rates: what they come to, and what is refused."""

from decimal import Decimal

import pytest

from chainplan.errors import InputError
from chainplan.estimate.price.what_if import change_job


@pytest.mark.parametrize(
    ("change", "price"),
    [
        ("metal:sterling-silver+10%", "1.1"),
        ("metal:sterling-silver-25 %", "0.75"),
        ("metal:sterling-silver−100%", "0"),
        ("metal:sterling-silver=1.35", "1.35"),
    ],
)
def test_a_price_is_changed_by_a_share_of_it_or_to_a_value(a_job, change, price):
    """From 1.00 a gram; all other prices stay."""
    job, (line,) = change_job(a_job(), [change])
    before = {item.item: item.price for item in a_job().prices}
    after = {item.item: item.price for item in job.prices}
    assert after == before | {"sterling-silver": Decimal(price)}
    assert line == f"sterling silver: EUR 1.00 to EUR {price} per g"


def test_a_price_that_the_job_has_not_is_refused_with_those_that_it_has(a_job):
    """What was asked for, and what there is."""
    with pytest.raises(InputError) as told:
        change_job(a_job(), ["metal:fine-silver+10%"])
    assert "'fine-silver' has no price in the job" in str(told.value)
    assert "sterling-silver" in str(told.value)


def test_more_than_all_cannot_be_taken_off(a_job):
    with pytest.raises(InputError, match="takes off more than all"):
        change_job(a_job(), ["metal:copper-101%"])
