"""What the peer does not do, said in words."""


class NotCovered(Exception):
    """The clip needs something that `scaplane` does and the peer does not."""
