"""Published values to test against: each module names its source and how sure it is.

"seen": the source was read where the docstring says. "from memory": written down without a source.
"""
