"""Where packages come from is the machine's business, never the project's."""

from tests.house.checkout import ROOT, files

# Put together here, so that this file does not hold what it looks for.
_HOSTS = [
    ".".join(parts)
    for parts in [
        ("pypi", "org"),
        ("files", "pythonhosted", "org"),
        ("registry", "npmjs", "org"),
        ("deb", "debian", "org"),
        ("unpkg", "com"),
        ("cdn", "jsdelivr", "net"),
    ]
]


def test_no_file_names_a_package_registry() -> None:
    told = [
        f"{path}: {host}"
        for path in files()
        for host in _HOSTS
        if host.encode() in (ROOT / path).read_bytes().lower()
    ]

    assert told == []
