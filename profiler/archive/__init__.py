"""The archive: jobs kept for decades, per customer, found again by words and by shape.

The only floor that knows a database. Nothing below it knows that it exists.
"""
