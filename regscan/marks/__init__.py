"""From pixels to marks: find each ink's mark, fit its centre, say how well."""
