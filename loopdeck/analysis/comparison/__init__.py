"""A take held against a target, note by note: ``matching`` in time, ``ordering`` by order,
``comparing`` what is said of it."""
