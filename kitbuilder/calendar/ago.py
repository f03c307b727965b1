"""How old something is, in words."""


def ago(seconds: int) -> str:
    """How long ago, in the largest unit that says it well."""
    minutes = seconds // 60
    if minutes < 1:
        return "just now"
    if minutes < 120:
        return f"{minutes} min ago"
    return f"{minutes // 60} h ago" if minutes < 72 * 60 else f"{minutes // (24 * 60)} days ago"
