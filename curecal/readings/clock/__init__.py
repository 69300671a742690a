"""The clock a logger wrote its rows by: order of dates, offsets, time zones."""
