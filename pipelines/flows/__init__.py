"""Prefect: the plain functions of :mod:`pipelines.runs` as flows on a timetable. Nothing else imports Prefect."""
