"""Where an open page may listen: on the machine itself alone, for it asks nobody who they are."""

from ipaddress import ip_address

BEYOND = (
    'whoever reached it would see every owner\'s craft, for with access = "open" it asks nobody'
    ' who they are; set 127.0.0.1, or access = "people" (docs/page.md)'
)


def is_loopback(host: str) -> bool:
    """Whether only the machine itself reaches an address to listen on."""
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False  # a name may lead anywhere, tomorrow too
