import pytest

from app.domain.agencies import check_agency_key
from app.domain.errors import Refused


@pytest.mark.parametrize("key", ["skerry", "s", "skerry-isles-2", "x" * 40])
def test_an_agency_key_fits_into_an_address(key: str) -> None:
    check_agency_key(key)


@pytest.mark.parametrize("key", ["", "Skerry", "skerry isles", "-skerry", "x" * 41, "*", "api"])
def test_other_keys_are_refused(key: str) -> None:
    with pytest.raises(Refused):
        check_agency_key(key)
