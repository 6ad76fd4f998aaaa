"""The weekly problem form and absences: scores, cases, prevalence, incidence, burden."""
