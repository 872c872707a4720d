"""What the component and supplier reports are made from, checked on arrival.

Lives below ``analysis``, ``charts`` and ``report``, because the first fills it
and the other two read it.
"""
