"""Universal numbers, each with its source. SI throughout."""

STEFAN_BOLTZMANN = 5.670374419e-8  # W m-2 K-4; exact value of the 2019 SI (CODATA 2018)
STANDARD_GRAVITY = 9.80665  # m s-2; 3rd CGPM (1901)
ZERO_CELSIUS = 273.15  # K; SI definition of the Celsius scale
STANDARD_PRESSURE = 101_325.0  # Pa; standard atmosphere, ISO 2533:1975
SUN_HALF_ANGLE = 4.65e-3  # rad; mean angular radius, R_sun = 695 700 km (IAU 2015 B3) at 1 au
