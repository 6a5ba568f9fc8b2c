"""Reference data of measurement system studies, with their standing."""

import numpy as np

# 10 parts x 3 appraisers x 3 trials of the AIAG manual (Measurement Systems Analysis, 4th ed.
# 2010). The data stand here from memory; the mean squares of their analysis of variance
# (9.81799, 1.58363, 0.01994, 0.04598) equal a published table.
_MSA = """
A .29 -.56 1.34 .47 -.80 .02 .59 -.31 2.26 -1.36
A .41 -.68 1.17 .50 -.92 -.11 .75 -.20 1.99 -1.25
A .64 -.58 1.27 .64 -.84 -.21 .66 -.17 2.01 -1.31
B .08 -.47 1.19 .01 -.56 -.20 .47 -.63 1.80 -1.68
B .25 -1.22 .94 1.03 -1.20 .22 .55 .08 2.12 -1.62
B .07 -.68 1.34 .20 -1.28 .06 .83 -.34 2.19 -1.50
C .04 -1.38 .88 .14 -1.46 -.29 .02 -.46 1.77 -1.49
C -.11 -1.13 1.09 .20 -1.07 -.67 .01 -.56 1.45 -1.77
C -.15 -.96 .67 .11 -1.45 -.49 .21 -.49 1.87 -2.16
"""
MSA = np.array([[float(v) for v in line.split()[1:]] for line in _MSA.strip().splitlines()])
MSA = MSA.reshape(3, 3, 10).transpose(2, 0, 1)  # parts x appraisers x trials

# NIST Statistical Reference Datasets, SiRstv (one-way analysis of variance, five instruments,
# five repeats). Data and certified values from memory, recomputed.
SIRSTV = np.array(
    [
        [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
        [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
        [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
        [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
        [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
    ]
)
SIRSTV_F = 1.18046237440255
SIRSTV_SD = 1.04076068334656e-01
