"""Median weight for age from 10 to 18 years, mean of both sexes, in kg.

CDC growth charts 2000, weight for age, growth files. Grade P for the medians; their mean over the
sexes is ours. Used only to notice a weight that hardly goes with an age.
"""

SOURCE = "CDC growth charts 2000, weight for age (mean of the sexes' medians)"
GRADE = "P"

# Age in years, median in kg.
MEDIANS = (
    (10, 32.6),
    (11, 36.7),
    (12, 41.3),
    (13, 45.9),
    (14, 50.4),
    (15, 54.3),
    (16, 57.5),
    (17, 59.9),
    (18, 61.8),
)
