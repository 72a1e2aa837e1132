"""What a stay costs, computed from plain records: no database, no clock, no binary fractions.

Read in this order: `terms` (every convention an agreement can state), `stays` (which days count), `allowance` (which of
them are included), `prices` (what so many days cost so far), `account` (all lines of some stays up to a day), `tax`,
`compare` (what was billed against what is right).
"""
