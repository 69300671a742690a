"""The rules of the date: climate, clocks, sequence, hold points, heat-up, visits, states.

`curecal.planning.make_plan.make_plan` is the one door; `curecal.planning.plan` is what it returns.
Pure: no clock, no file, no environment, no locale.
"""
